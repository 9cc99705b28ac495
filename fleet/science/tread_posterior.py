"""Hold the inner numerics of remaining tread: the posterior of one straight wear line, many at a time.

Each cell is one zone of one tire. Depth is ``start - rate * distance``; the start is normal given the rate, in
closed form, and the logarithm of the rate lives on a grid narrowed to where its posterior has mass. The life then is

    life = center + (room + depth_sd * e) / rate,    e standard normal and independent of the rate,

so its first three moments follow exactly from those of ``1 / rate``, and a shifted lognormal with these moments
stands for it. Distances in 1000 km, depths in mm, rates in mm per 1000 km; every array has one entry per cell.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PRIOR_REACH: Final = 8.0
"""Prior standard deviations searched on both sides for the rate."""

GRIDS: Final = (33, 17, 21)
"""Nodes of the grid over the log rate as it is narrowed."""

LOG_DENSITY_DROP: Final = 12.0
"""Nodes this far under the peak of the log density hold no mass worth keeping (almost five standard deviations)."""

MISFIT_STRENGTH: Final = 4.0
"""Readings' worth of belief that the gauge is as good as stated, against the scatter seen."""


@dataclass(frozen=True)
class Line:
    """What readings and prior say about one wear line; names as in the module's formula."""

    linear: Array
    square: Array
    prior_u: Array
    prior_sigma: Array
    center: Array
    start: Array
    depth_sd: Array


def wear_line(
    x: Array,
    y: Array,
    *,
    start: Array,
    start_sd: Array,
    noise: Array,
    prior_u: Array,
    prior_sigma: Array,
    widen: bool,
) -> Line:
    """Return the sufficient statistics of the readings, x and y of shape (cells, readings) with NaN as padding."""
    seen = ~(np.isnan(x) | np.isnan(y))
    x = np.where(seen, x, 0.0)
    e = np.where(seen, y - start[:, None], 0.0)
    n = seen.sum(axis=1)
    sx, se = x.sum(axis=1), e.sum(axis=1)
    sxx, sxe, see = (np.einsum("ij,ij->i", a, b) for a, b in ((x, x), (x, e), (e, e)))
    variance = np.square(noise)
    if widen:
        variance = variance * _misfit(n, sx, se, sxx, sxe, see, variance)
    share = 1.0 / (n + variance / np.square(start_sd))
    return Line(
        linear=(sxe - share * se * sx) / variance,
        square=(sxx - share * sx * sx) / variance,
        prior_u=prior_u,
        prior_sigma=prior_sigma,
        center=share * sx,
        start=start + share * se,
        depth_sd=np.sqrt(variance * share),
    )


def _misfit(
    n: NDArray[np.int_], sx: Array, se: Array, sxx: Array, sxe: Array, see: Array, variance: Array
) -> Array:
    """Return the factor, at least one, by which the scatter about a free line exceeds the gauge's variance."""
    count = np.maximum(n, 1)
    cxx, cxe, cee = sxx - sx * sx / count, sxe - sx * se / count, see - se * se / count
    straight = np.divide(cxe * cxe, cxx, out=np.zeros_like(cxx), where=cxx > 0)
    excess = np.maximum(cee - straight, 0.0) / variance
    return np.maximum(1.0, (excess + MISFIT_STRENGTH) / (np.maximum(n - 2, 0) + MISFIT_STRENGTH))


def _log_density(line: Line, u: Array, rate: Array) -> Array:
    score = (u - line.prior_u) / line.prior_sigma
    return -rate * (line.linear + 0.5 * line.square * rate) - 0.5 * score * score


def _narrowed(u: Array, density: Array) -> tuple[Array, Array]:
    """Return the ends of the part of the grid that holds the mass, one step wider on both sides."""
    heavy = density > density.max(axis=0) - LOG_DENSITY_DROP
    last = len(u) - 1
    first_heavy = np.maximum(heavy.argmax(axis=0) - 1, 0)
    last_heavy = np.minimum(last - heavy[::-1].argmax(axis=0) + 1, last)
    cells = np.arange(u.shape[1])
    return u[first_heavy, cells], u[last_heavy, cells]


def rate_grid(line: Line) -> tuple[Array, Array]:
    """Return nodes of the log rate and their posterior mass, both of shape (nodes, cells)."""
    reach = PRIOR_REACH * line.prior_sigma
    low, high = line.prior_u - reach, line.prior_u + reach
    for nodes in GRIDS:
        u = low + (high - low) * np.linspace(0.0, 1.0, nodes)[:, None]
        density = _log_density(line, u, np.exp(u))
        low, high = _narrowed(u, density)
    mass = np.exp(density - density.max(axis=0))
    return u, mass / mass.sum(axis=0)


def life_moments(line: Line, limit: Array) -> tuple[Array, Array, Array]:
    """Return mean and standard deviation of the whole life in 1000 km, and its skewness."""
    u, mass = rate_grid(line)
    slowness = np.exp(-u)
    mean = (mass * slowness).sum(axis=0)
    off = slowness / mean - 1.0
    weighed = mass * off * off
    second = weighed.sum(axis=0)
    third = (weighed * off).sum(axis=0)
    room, noise = line.start - limit, np.square(line.depth_sd)
    variance = np.square(room) * second + noise * (1.0 + second)
    skew = (room**3 * third + 3.0 * room * noise * (2.0 * second + third)) / variance**1.5
    return line.center + room * mean, np.sqrt(variance) * mean, skew
