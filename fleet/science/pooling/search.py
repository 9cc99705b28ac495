"""Find the standard deviations that make the rows likeliest."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fleet.science.pooling.blocks import Blocks
from fleet.science.pooling.likelihood import Solution, slopes, solve
from fleet.science.pooling.minimum import Objective, curvature, minimise, settle
from fleet.science.pooling.prior import Prior

Array = NDArray[np.float64]

LARGEST_RATIO = 1e5
"""A factor's standard deviation over the residual's beyond which no residual is left to speak of."""
NEAR_ZERO = 0.05
"""Ratios under this are tried at exactly 0."""
NO_RESIDUAL = 1e-12
"""Share of the sum of squares under which what is left is rounding."""
REOPENED = 0.1
"""Where a ratio starts again when 0 turns out not to be the best."""


def restricted(blocks: Blocks) -> Solution:
    """Return the solution where the restricted likelihood is largest, its residual variance profiled out.

    A ratio whose best value is the boundary is returned as exactly 0.

    Raises
    ------
    ValueError
        The levels and fixed effects explain y without any residual.
    """
    flat = np.zeros(blocks.spans[-1].stop - blocks.spans[-1].start)
    start = np.ones(len(blocks.names))

    def objective(part: Blocks) -> Objective:
        def deviance(theta: Array) -> tuple[float, Array]:
            at = solve(part, theta**2, flat, None)
            return at.deviance, 2.0 * theta * slopes(part, at)[0]

        return deviance

    def best(part: Blocks, theta: Array) -> Array:
        bounds = [(0.0, LARGEST_RATIO)] * len(theta)
        for _ in range(len(theta) + 1):
            theta = _zero_where_better(objective(part), minimise(objective(part), theta, bounds))
            reopened = (theta == 0.0) & _falls_inward(part, theta, flat)
            if not reopened.any():
                break
            theta[reopened] = REOPENED
        return theta

    theta = _best_in_two_steps(blocks, start, best, objective)
    if (theta == 0.0).any() and ((theta == 0.0) & _falls_inward(blocks, theta, flat)).any():
        theta = best(blocks, np.maximum(theta, REOPENED))
    solution = solve(blocks, theta**2, flat, None)
    if theta.max(initial=0.0) >= LARGEST_RATIO or solution.quadratic <= NO_RESIDUAL * blocks.total:
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

    sds = np.exp(_best_in_two_steps(blocks, typical, best, objective))
    return solve(blocks, (sds[:-1] / sds[-1]) ** 2, precision, float(sds[-1] ** 2))


def _best_in_two_steps(
    blocks: Blocks,
    start: Array,
    best: Callable[[Blocks, Array], Array],
    objective: Callable[[Blocks], Objective],
) -> Array:
    """Search on cheap rounded blocks where that pays, then settle on the exact ones."""
    rough = blocks.rounded()
    if rough is None:
        return best(blocks, start)
    near = best(rough, start)
    free = np.flatnonzero(near != 0.0)
    settled, done = settle(objective(blocks), near, free, curvature(objective(rough), near, free))
    return settled if done else best(blocks, near)


def _falls_inward(blocks: Blocks, theta: Array, flat: Array) -> NDArray[np.bool_]:
    return slopes(blocks, solve(blocks, theta**2, flat, None))[0] < 0.0


def _zero_where_better(deviance: Objective, theta: Array) -> Array:
    for index in np.flatnonzero((theta > 0.0) & (theta < NEAR_ZERO)):
        trial = theta.copy()
        trial[index] = 0.0
        if deviance(trial)[0] <= deviance(theta)[0] + 1e-10:
            theta = trial
    return theta
