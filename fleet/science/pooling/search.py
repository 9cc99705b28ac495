"""Find the standard deviations that make the rows likeliest."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fleet.science.pooling.blocks import Blocks
from fleet.science.pooling.likelihood import Solution, slopes, solve
from fleet.science.pooling.minimum import Objective, curvature, minimise, settle
from fleet.science.pooling.prior import Prior

Array = NDArray[np.float64]

LARGEST_RATIO = 1e10
"""A factor's variance over the residual's beyond which no residual is left to speak of."""
NO_RESIDUAL = 1e-12
"""Share of the sum of squares under which what is left is rounding."""
NEAR_ZERO = 0.01
"""Points under this are tried at exactly 0."""
REOPENED = 0.1
"""Where the search starts again when 0 turns out not to be the best."""
ROUNDING_SLOPE = 1e-9
"""Slope per row that cannot be told from 0."""


def restricted(blocks: Blocks) -> Solution:
    """Return the solution where the restricted likelihood is largest, its residual variance profiled out.

    A ratio whose best value is the boundary is returned as exactly 0.

    Raises
    ------
    ValueError
        The levels and fixed effects explain y without any residual.
    """
    unit = _units(blocks)
    flat = _flat(blocks)
    start, limit = np.log1p(1.0 / unit), np.log1p(LARGEST_RATIO / unit)

    def objective(part: Blocks) -> Objective:
        def deviance(point: Array) -> tuple[float, Array]:
            at = solve(part, unit * np.expm1(point), flat, None)
            return at.deviance, (at.ratios + unit) * slopes(part, at)[0]

        return deviance

    def best(part: Blocks, point: Array) -> Array:
        found = _zero_where_best(objective(part), minimise(objective(part), point, limit), part)
        reopened = (found == 0.0) & _falls_inward(objective(part), found, part)
        if reopened.any():
            again = minimise(objective(part), np.where(reopened, REOPENED, found), limit)
            found = _zero_where_best(objective(part), again, part)
        return found

    point = _best_in_two_steps(blocks, start, best, objective, lower=0.0)
    if (point == 0.0).any() and ((point == 0.0) & _falls_inward(objective(blocks), point, blocks)).any():
        point = best(blocks, np.maximum(point, REOPENED))
    solution = solve(blocks, unit * np.expm1(point), flat, None)
    if (point >= limit).any() or solution.quadratic <= NO_RESIDUAL * blocks.total:
        raise ValueError(
            "y must vary beyond its levels and fixed effects when no prior is given, got no residual"
        )
    return solution


def believed(blocks: Blocks, precision: Array, prior: Prior) -> Solution:
    """Return the solution where likelihood times prior of the standard deviations is largest."""
    typical = np.log([*(prior.group_sd[name] for name in blocks.names), prior.residual_sd])

    def objective(part: Blocks) -> Objective:
        def surprise(logs: Array) -> tuple[float, Array]:
            sds = np.exp(logs)
            ratios, variance = (sds[:-1] / sds[-1]) ** 2, float(sds[-1] ** 2)
            at = solve(part, ratios, precision, variance)
            by_ratio, by_variance = slopes(part, at)
            by_log = 2.0 * np.append(ratios * by_ratio, variance * by_variance - ratios @ by_ratio)
            excess = np.exp(2.0 * (typical - logs))
            penalty = prior.strength * float(np.sum(2.0 * logs + excess))
            return at.deviance + penalty, by_log + 2.0 * prior.strength * (1.0 - excess)

        return surprise

    def best(part: Blocks, logs: Array) -> Array:
        return minimise(objective(part), logs, None)

    sds = np.exp(_best_in_two_steps(blocks, typical, best, objective, lower=-np.inf))
    return solve(blocks, (sds[:-1] / sds[-1]) ** 2, precision, float(sds[-1] ** 2))


def _best_in_two_steps(
    blocks: Blocks,
    start: Array,
    best: Callable[[Blocks, Array], Array],
    objective: Callable[[Blocks], Objective],
    *,
    lower: float,
) -> Array:
    """Search on cheap rounded blocks where that pays, then settle on the exact ones."""
    rough = blocks.rounded()
    if rough is None:
        return best(blocks, start)
    near = best(rough, start)
    free = np.flatnonzero(near != lower)
    curved = curvature(objective(rough), near, free, objective(rough)(near)[1])
    settled, done = settle(objective(blocks), near, free, curved, lower=lower)
    return settled if done else best(blocks, near)


def _units(blocks: Blocks) -> Array:
    """Return the ratio (k,) at which a factor's average level is believed by half.

    The search runs over log(1 + ratio / unit): linear near 0, where the boundary would otherwise be a flat
    trap, and logarithmic far above it.
    """
    sizes = [float(len(blocks.mass)), *(float(span.stop - span.start) for span in blocks.spans[:-1])]
    return np.array(sizes[: len(blocks.names)]) / max(float(blocks.mass.sum()), 1e-300)


def _falls_inward(deviance: Objective, point: Array, blocks: Blocks) -> NDArray[np.bool_]:
    """Tell for each ratio whether a larger one would be likelier, by more than rounding."""
    return np.asarray(deviance(point)[1] < -ROUNDING_SLOPE * blocks.rows)


def _zero_where_best(deviance: Objective, point: Array, blocks: Blocks) -> Array:
    """Return the point with parameters near 0 at exactly 0 where that is a minimum and no less likely."""
    for index in np.flatnonzero((point > 0.0) & (point < NEAR_ZERO)):
        trial = point.copy()
        trial[index] = 0.0
        here, there = deviance(point)[0], deviance(trial)[0]
        if there <= here + 1e-10 + 1e-12 * abs(here) and not _falls_inward(deviance, trial, blocks)[index]:
            point = trial
    return point


def _flat(blocks: Blocks) -> Array:
    """Return the precision of fixed effects of which nothing is believed."""
    return np.zeros(blocks.spans[-1].stop - blocks.spans[-1].start)
