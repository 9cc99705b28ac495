"""Minimise a smooth function of a few parameters to nearly all digits."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

Array = NDArray[np.float64]
Objective = Callable[[Array], tuple[float, Array]]

SETTLED = 1e-9
"""Newton step, relative to the parameter, under which a point is the minimum."""
LONGEST = 3.0
"""Longest step of one parameter at a time."""
MOST_NEWTON_STEPS = 60
MOST_HALVINGS = 30
MOST_CHORD_STEPS = 8
NUDGE = 1e-4
NO_SLOPE = 1e-9
"""Slope that cannot be told from 0."""


def minimise(objective: Objective, start: Array, limit: Array | None) -> Array:
    """Return where ``objective`` (value and gradient) is least, by damped Newton steps.

    With a ``limit`` every parameter stays between 0, which is reached exactly, and its limit.
    """
    lower, upper = _bounds(start, limit)
    point = start
    value, slope = objective(point)
    for _ in range(MOST_NEWTON_STEPS):
        free = np.flatnonzero(~_is_pressed(point, slope, lower, upper))
        if not len(free) or not slope[free].any():
            break
        step = np.zeros(len(point))
        step[free] = _downhill(_curvature(objective, point, free, slope), slope[free])
        moved, value, slope = _try(objective, point, step, (lower, upper), (value, slope))
        done = (np.abs(moved - point) <= SETTLED * np.maximum(np.abs(point), 0.1)).all()
        point = moved
        if done:
            break
    return point


def settle(exact: Objective, rough: Objective, near: Array, limit: Array | None) -> Array | None:
    """Return the minimum of ``exact`` by steps from that of ``rough``, whose curvature is cheap and much alike.

    None where that does not lead to it: the gradient grows, or a bound is met or left.
    """
    lower, upper = _bounds(near, limit)
    point, slope = near, exact(near)[1]
    free = np.flatnonzero((near > lower) & (near < upper))
    curved = _curvature(rough, near, free, rough(near)[1])
    for _ in range(MOST_CHORD_STEPS):
        step = np.zeros(len(point))
        step[free] = linalg.lstsq(curved, slope[free])[0] if len(free) else 0.0
        moved = point - step
        ahead = (
            exact(moved)[1] if ((moved >= lower) & (moved <= upper)).all() else np.full(len(point), np.inf)
        )
        small = bool((np.abs(step) <= SETTLED * np.maximum(np.abs(point), 0.1)).all())
        better = np.abs(ahead[free]).max(initial=0.0) < np.abs(slope[free]).max(initial=0.0)
        point, slope = (moved, ahead) if better else (point, slope)
        if small or not better:
            pressed = _is_pressed(point, slope, lower, upper)
            pressed[free] = True
            return point if small and pressed.all() else None
    return None


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

    Where values no longer tell two points apart, a smaller gradient counts as help.
    """
    value, slope = here
    rounding = 1e-13 * abs(value)
    for halving in range(MOST_HALVINGS):
        moved = np.clip(point + 0.5**halving * step, *bounds)
        ahead, there = objective(moved)
        gain = float(slope @ (moved - point))
        if ahead <= value + 1e-4 * gain - rounding:
            return moved, ahead, there
        active = step != 0.0
        if ahead <= value + rounding and np.abs(there[active]).max() < np.abs(slope[active]).max():
            return moved, ahead, there
    return point, value, slope
