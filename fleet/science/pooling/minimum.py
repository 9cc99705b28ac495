"""Minimise a smooth function of a few parameters to nearly all digits."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Objective = Callable[[Array], tuple[float, Array]]

SETTLED = 1e-9
"""Newton step, relative to the parameter, under which a point is the minimum."""
LONGEST = 3.0
"""Longest step of one parameter at a time."""
MOST_NEWTON_STEPS = 60
MOST_HALVINGS = 30
STALE = 0.1
"""Share of the slope a step must leave behind for the curvature to be worth finding again."""
NUDGE = 1e-4
ROUNDING = 1e-11
"""Relative difference of two values that may be rounding."""
NO_SLOPE = 1e-9
"""Slope that cannot be told from 0."""


def minimise(objective: Objective, start: Array, limit: Array | None, settled: float = SETTLED) -> Array:
    """Return where ``objective`` (value and gradient) is least, by damped Newton steps.

    With a ``limit`` every parameter stays between 0, which is reached exactly, and its limit. A step of at most
    ``settled``, relative to the parameter, is the last.
    """
    lower, upper = _bounds(start, limit)
    point, curved, known = start, np.zeros((0, 0)), np.zeros(0, dtype=np.intp)
    value, slope = objective(point)
    for _ in range(MOST_NEWTON_STEPS):
        free = np.flatnonzero(~_is_pressed(point, slope, lower, upper))
        if not len(free) or not slope[free].any():
            break
        if not np.array_equal(free, known):
            curved, known = _curvature(objective, point, free, slope), free
        step = np.zeros(len(point))
        step[free] = _downhill(curved, slope[free])
        before, (moved, value, slope) = slope, _try(objective, point, step, (lower, upper), (value, slope))
        done = (np.abs(moved - point) <= settled * np.maximum(np.abs(point), 0.1)).all()
        point = moved
        if done:
            break
        if np.abs(slope[free]).max() > STALE * np.abs(before[free]).max():
            known = np.zeros(0, dtype=np.intp)
    return point


def _bounds(like: Array, limit: Array | None) -> tuple[Array, Array]:
    if limit is None:
        return np.full(len(like), -np.inf), np.full(len(like), np.inf)
    return np.zeros(len(like)), limit


def _is_pressed(point: Array, slope: Array, lower: Array, upper: Array) -> NDArray[np.bool_]:
    """Tell which parameters sit on a bound that holds them back."""
    below, above = (point <= lower) & (slope >= -NO_SLOPE), (point >= upper) & (slope <= NO_SLOPE)
    return np.asarray(below | above)


def _curvature(objective: Objective, point: Array, free: NDArray[np.intp], slope: Array) -> Array:
    """Return the second derivatives by the ``free`` parameters, from differences of the gradient ``slope``."""
    result = np.zeros((len(free), len(free)))
    for column, index in enumerate(free):
        nudged = point.copy()
        nudged[index] += NUDGE * max(abs(point[index]), 0.1)
        result[:, column] = (objective(nudged)[1] - slope)[free] / (nudged[index] - point[index])
    return np.asarray(0.5 * (result + result.T), dtype=np.float64)


def _downhill(curved: Array, slope: Array) -> Array:
    """Return the Newton step, turned downhill along directions of negative curvature, no longer than allowed."""
    values, vectors = np.linalg.eigh(curved)
    bent = np.abs(values)
    bent = np.maximum(bent, 1e-10 * bent.max() + 1e-300)
    step = -vectors @ ((vectors.T @ slope) / bent)
    return np.asarray(step * min(1.0, LONGEST / float(np.abs(step).max())), dtype=np.float64)


def _try(
    objective: Objective, point: Array, step: Array, bounds: tuple[Array, Array], here: tuple[float, Array]
) -> tuple[Array, float, Array]:
    """Return the first of ever shorter steps that helps, with value and gradient there; else the point itself.

    Where values no longer tell two points apart, a smaller gradient counts as help. A step to where the
    objective's equations have no solution is too long.
    """
    value, slope = here
    rounding = ROUNDING * abs(value)
    for halving in range(MOST_HALVINGS):
        moved = np.clip(point + 0.5**halving * step, *bounds)
        try:
            ahead, there = objective(moved)
        except np.linalg.LinAlgError:
            continue
        gain = float(slope @ (moved - point))
        if ahead <= value + 1e-4 * gain - rounding:
            return moved, ahead, there
        active = step != 0.0
        if ahead <= value + rounding and np.abs(there[active]).max() < np.abs(slope[active]).max():
            return moved, ahead, there
    return point, value, slope
