"""The circle nearest to a set of points."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from fleet.science.bounds import within

Array = NDArray[np.float64]

FEWEST_POINTS: Final = 3
FLATTEST: Final = 1e-9
"""Share of the points' length under which their spread across it counts as a straight line."""

AGREED: Final = 1e-14


@dataclass(frozen=True)
class Circle:
    """A circle in mm, with the root mean square distance of the points from it."""

    centre_x_mm: float
    centre_z_mm: float
    radius_mm: float
    rms_mm: float


def fit_circle(x_mm: ArrayLike, z_mm: ArrayLike) -> Circle:
    """Return the circle with the least sum of squared distances from the points, measured at right angles to it.

    The start is the algebraic fit [Kasa1976], which is linear but draws short arcs too small; from there the distances
    themselves are minimised [Gander1994].

    Parameters
    ----------
    x_mm, z_mm : array_like, shape (n,)
        Points in mm; one with a NaN is passed over.

    Raises
    ------
    ValueError
        If fewer than 3 points are left, they lie on a line, or a coordinate is infinite.
    """
    x, z, _ = usable(x_mm, z_mm, FEWEST_POINTS)
    middle = np.array([x.mean(), z.mean()])
    points = np.column_stack([x, z]) - middle
    spreads = np.linalg.svd(points, compute_uv=False)
    if spreads[1] <= FLATTEST * spreads[0]:
        raise ValueError("the points must not lie on a line: no circle is nearest to them")
    design = np.column_stack([2.0 * points, np.ones(len(x))])
    a, b, c = np.linalg.lstsq(design, np.square(points).sum(axis=1), rcond=None)[0]
    start = [a, b, np.sqrt(c + a * a + b * b)]
    found = least_squares(
        _distances, start, args=(points,), method="lm", xtol=AGREED, ftol=AGREED, gtol=AGREED
    )
    centre = middle + found.x[:2]
    return Circle(
        float(centre[0]), float(centre[1]), float(found.x[2]), float(np.sqrt(np.mean(found.fun**2)))
    )


def usable(x_mm: ArrayLike, z_mm: ArrayLike, fewest: int) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return the points without those that hold a NaN, and which they are, refusing fewer than so many."""
    x, z = within("x_mm", x_mm), within("z_mm", z_mm)
    if x.ndim != 1 or x.shape != z.shape:
        raise ValueError(f"x_mm and z_mm must be two equally long rows, not of shape {x.shape} and {z.shape}")
    is_whole = ~(np.isnan(x) | np.isnan(z))
    if is_whole.sum() < fewest:
        raise ValueError(f"the points must be at least {fewest}, not {is_whole.sum()}")
    return x[is_whole], z[is_whole], is_whole


def _distances(p: Array, points: Array) -> Array:
    return np.asarray(np.hypot(points[:, 0] - p[0], points[:, 1] - p[1]) - p[2])
