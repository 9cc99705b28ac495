"""Minimise a smooth function of a few parameters to nearly all digits."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, optimize

Array = NDArray[np.float64]
Objective = Callable[[Array], tuple[float, Array]]

SETTLED = 1e-9
"""Newton step, relative to the parameter, under which a point is the minimum."""
MOST_STEPS = 8
NUDGE = 1e-5


def minimise(objective: Objective, start: Array, bounds: list[tuple[float, float]] | None) -> Array:
    """Return where ``objective`` (value and gradient) is least; ``bounds`` may make parameters exactly 0."""
    if not len(start):
        return start
    found = optimize.minimize(
        objective, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-9, "gtol": 1e-6}
    )
    point = np.asarray(found.x, dtype=np.float64)
    free = np.arange(len(point)) if bounds is None else np.flatnonzero(point != 0.0)
    return settle(objective, point, free, curvature(objective, point, free))[0]


def curvature(objective: Objective, point: Array, free: NDArray[np.intp]) -> Array:
    """Return the second derivatives by the ``free`` parameters, from differences of the gradient."""
    result = np.zeros((len(free), len(free)))
    for column, index in enumerate(free):
        above, below = point.copy(), point.copy()
        step = NUDGE * max(abs(point[index]), 0.1)
        above[index], below[index] = point[index] + step, point[index] - step
        result[:, column] = (objective(above)[1] - objective(below)[1])[free] / (2.0 * step)
    return 0.5 * (result + result.T)


def settle(objective: Objective, point: Array, free: NDArray[np.intp], curved: Array) -> tuple[Array, bool]:
    """Return the point after Newton steps of fixed curvature, and whether the last one was negligible.

    Stops before a step that would make the gradient larger.
    """
    slope = objective(point)[1][free]
    for _ in range(MOST_STEPS):
        if not slope.any():
            return point, True
        step = np.asarray(linalg.lstsq(curved, slope)[0], dtype=np.float64)
        moved = point.copy()
        moved[free] -= step
        small = bool((np.abs(step) <= SETTLED * np.maximum(np.abs(point[free]), 0.1)).all())
        ahead = objective(moved)[1][free]
        if np.abs(ahead).max() >= np.abs(slope).max():
            return point, small
        point, slope = moved, ahead
        if small:
            return point, True
    return point, False
