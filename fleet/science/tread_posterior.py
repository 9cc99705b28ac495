"""Hold the inner numerics of remaining tread: the posterior of one wear line, many at a time.

Each cell is one zone of one tire. Over distance x its depth is

    depth = start - rate * x - scale * (bend * x (1 - x / life) + drift(x)) ,

a straight line, from which a tire bends away in mid-life, wearing faster first and slower later or the other way round,
and drifts because no day wears like another: drift is Brownian motion. A reading adds the noise of its gauge. Given the
rate, all of this is normal and a Kalman filter [Durbin2012] sums it up in closed form; the logarithm of the rate lives
on a grid narrowed to where its posterior has mass. The life then is

    life = center + (room + depth_sd * e) / rate + days,    e standard normal and independent of the rate,

with the days to come as independent noise, so its first three moments follow exactly from those of ``1 / rate``, and a
shifted lognormal with these moments stands for it. Bend and drift are small against the line, so their ``scale`` and
``life`` are plugged in: from the prior first, then from the answer to it. Distances in 1000 km, depths in mm, rates in
mm per 1000 km; every array has one entry per cell.
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

OUTLIER_SDS: Final = 3.0
"""Standard deviations beyond which a reading counts as one so noisy that it stands just there."""

SHORTEST_REST: Final = 1.02
SHORTEST_LIFE: Final = 0.1
"""A life plugged in is at least this many times the distance already run, and the life expected without readings."""

READ, START, BEND, RATE = range(4)


@dataclass(frozen=True)
class Wearing:
    """What is believed of each cell before a reading; names as in the module's formula."""

    start: Array
    start_sd: Array
    log_rate: Array
    log_rate_sd: Array
    bend_sd: Array
    drift: Array
    limit: Array

    @property
    def room(self) -> Array:
        """Return the depth there is to wear."""
        return self.start - self.limit


@dataclass(frozen=True)
class Line:
    """What readings and prior say about one wear line; names as in the module's formula.

    Start and bend are ``given + given_by_rate * rate`` by their means, both (2, cells).
    """

    linear: Array
    square: Array
    log_rate: Array
    log_rate_sd: Array
    last: Array
    center: Array
    room: Array
    depth_sd: Array
    given: Array
    given_by_rate: Array


@dataclass(frozen=True)
class Filtered:
    """Readings summed up by a Kalman filter.

    ``level`` (4, cells) gives the depth at the last reading as a sum of these times (1, start, bend, rate), ``doubt``
    its variance beyond them; ``innovations`` (4, readings, cells) what each reading adds, in the same coordinates, and
    ``weights`` (readings, cells) one over its variance, 0 where nothing was read.
    """

    last: Array
    level: Array
    doubt: Array
    innovations: Array
    weights: Array


def life_moments(
    x: Array, y: Array, noise: Array, wearing: Wearing, *, widen: bool
) -> tuple[Array, Array, Array]:
    """Return mean and standard deviation of the whole life in 1000 km, and its skewness.

    ``x`` and ``y`` have shape (cells, readings) in order of distance, with NaN as padding; ``widen`` says whether
    readings that scatter more than the gauge and the days explain widen the answer.
    """
    variance = np.broadcast_to(np.square(noise)[:, None], x.shape)
    life = wearing.room * np.exp(-wearing.log_rate)
    first, line = _told(x, y, variance, wearing, life)
    u, mass = _rate_grid(line)
    if widen:
        variance = variance * _misfit(first, line, np.exp((mass * u).sum(axis=0)))
    expected = _moments(line, u, mass, wearing.drift)[0]
    life = np.maximum(expected, np.maximum(SHORTEST_REST * first.last, SHORTEST_LIFE * life))
    line = _told(x, y, variance, wearing, life)[1]
    return _moments(line, *_rate_grid(line), wearing.drift)


def _told(x: Array, y: Array, variance: Array, wearing: Wearing, life: Array) -> tuple[Filtered, Line]:
    """Return what readings say about a line whose bend and drift are sized for a life."""
    scale = wearing.room / life
    filtered = _filtered(x, y, variance, wearing, scale, life)
    return filtered, _line(filtered, wearing, scale, life)


def _filtered(x: Array, y: Array, variance: Array, wearing: Wearing, scale: Array, life: Array) -> Filtered:
    cells, readings = x.shape
    level, doubt, last = np.zeros((4, cells)), np.zeros(cells), np.zeros(cells)
    level[START] = 1.0
    innovations, weights = np.empty((4, readings, cells)), np.empty((readings, cells))
    for index, (now, read, noise) in enumerate(zip(x.T, y.T, variance.T, strict=True)):
        seen = ~(np.isnan(now) | np.isnan(read))
        here = np.where(seen, now, last)
        level[RATE] -= here - last
        level[BEND] -= scale * (_bow(here, life) - _bow(last, life))
        doubt += np.square(scale) * wearing.drift * (here - last)
        innovation = -level
        innovation[READ] += np.where(seen, read, 0.0)
        weight = seen / (doubt + noise)
        gain = doubt * weight
        innovations[:, index], weights[index] = innovation, weight
        level += gain * innovation
        doubt = doubt * (1.0 - gain)
        last = here
    return Filtered(last, level, doubt, innovations, weights)


def _bow(x: Array, life: Array) -> Array:
    """Return how far a bend of one has taken a line of slope one from straight."""
    return x * (1.0 - x / life)


def _line(filtered: Filtered, wearing: Wearing, scale: Array, life: Array) -> Line:
    """Return the line with start and bend averaged over, which given the rate are normal."""
    level = filtered.level
    sums = np.einsum("ijk,ljk,jk->ilk", filtered.innovations, filtered.innovations, filtered.weights)
    belief = np.square(wearing.start_sd) ** -1, np.square(np.maximum(wearing.bend_sd, 1e-9)) ** -1
    a, b, c = sums[START, START] + belief[0], sums[START, BEND], sums[BEND, BEND] + belief[1]
    det = a * c - b * b
    fixed = np.stack([belief[0] * wearing.start - sums[READ, START], -sums[READ, BEND]])
    by_rate = np.stack([-sums[RATE, START], -sums[RATE, BEND]])

    def solved(side: Array) -> Array:
        return np.asarray(np.stack([c * side[0] - b * side[1], a * side[1] - b * side[0]]) / det)

    # The bow from here to the end of life straightens out again.
    to_end = np.stack([level[START], level[BEND] + scale * _bow(filtered.last, life)])
    given, given_by_rate = solved(fixed), solved(by_rate)
    return Line(
        linear=sums[READ, RATE] - (given_by_rate * fixed).sum(axis=0),
        square=sums[RATE, RATE] - (given_by_rate * by_rate).sum(axis=0),
        log_rate=wearing.log_rate,
        log_rate_sd=wearing.log_rate_sd,
        last=filtered.last,
        center=filtered.last + level[RATE] + (to_end * given_by_rate).sum(axis=0),
        room=level[READ] + (to_end * given).sum(axis=0) - wearing.limit,
        depth_sd=np.sqrt(filtered.doubt + (to_end * solved(to_end)).sum(axis=0)),
        given=given,
        given_by_rate=given_by_rate,
    )


def _misfit(filtered: Filtered, line: Line, rate: Array) -> Array:
    """Return by how much each reading's variance exceeds the gauge's, at least one: on its own, or with all others.

    Only a reading that promises more tread than the line is held back on its own: one that shows less may be right, and
    to talk it away would send a worn tire out.
    """
    start, bend = line.given + line.given_by_rate * rate
    off = np.einsum("ijk,ik->jk", filtered.innovations, np.stack([np.ones_like(rate), start, bend, rate]))
    seen = filtered.weights > 0.0
    square = np.square(off) * filtered.weights
    alone = np.where(off > 0.0, np.maximum(square / OUTLIER_SDS**2, 1.0), 1.0)
    count = seen.sum(axis=0)
    scatter = np.minimum(square, OUTLIER_SDS**2).sum(axis=0)
    together = np.maximum((scatter + MISFIT_STRENGTH) / (np.maximum(count - 2, 0) + MISFIT_STRENGTH), 1.0)
    return np.asarray((alone * together).T, dtype=np.float64)


def _log_density(line: Line, u: Array, rate: Array) -> Array:
    score = (u - line.log_rate) / line.log_rate_sd
    return -rate * (line.linear + 0.5 * line.square * rate) - 0.5 * score * score


def _narrowed(u: Array, density: Array) -> tuple[Array, Array]:
    """Return the ends of the part of the grid that holds the mass, one step wider on both sides."""
    heavy = density > density.max(axis=0) - LOG_DENSITY_DROP
    last = len(u) - 1
    first_heavy = np.maximum(heavy.argmax(axis=0) - 1, 0)
    last_heavy = np.minimum(last - heavy[::-1].argmax(axis=0) + 1, last)
    cells = np.arange(u.shape[1])
    return u[first_heavy, cells], u[last_heavy, cells]


def _rate_grid(line: Line) -> tuple[Array, Array]:
    """Return nodes of the log rate and their posterior mass, both of shape (nodes, cells)."""
    reach = PRIOR_REACH * line.log_rate_sd
    low, high = line.log_rate - reach, line.log_rate + reach
    for nodes in GRIDS:
        u = low + (high - low) * np.linspace(0.0, 1.0, nodes)[:, None]
        density = _log_density(line, u, np.exp(u))
        low, high = _narrowed(u, density)
    mass = np.exp(density - density.max(axis=0))
    return u, mass / mass.sum(axis=0)


def _moments(line: Line, u: Array, mass: Array, drift: Array | float) -> tuple[Array, Array, Array]:
    """Return mean, standard deviation and skewness of the whole life."""
    slowness = np.exp(-u)
    mean = (mass * slowness).sum(axis=0)
    off = slowness / mean - 1.0
    weighed = mass * off * off
    second = weighed.sum(axis=0)
    third = (weighed * off).sum(axis=0)
    room, noise = line.room, np.square(line.depth_sd)
    variance = np.square(room) * second + noise * (1.0 + second)
    third = room**3 * third + 3.0 * room * noise * (2.0 * second + third)
    life = line.center + room * mean
    whole = variance * np.square(mean) + drift * np.maximum(life - line.last, 0.0)
    return life, np.sqrt(whole), third * mean**3 / whole**1.5
