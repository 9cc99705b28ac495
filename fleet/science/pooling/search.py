"""Find the standard deviations that make the rows likeliest."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fleet.science.pooling.blocks import Blocks
from fleet.science.pooling.likelihood import slopes, solve
from fleet.science.pooling.minimum import Objective, curvature, minimise, settle
from fleet.science.pooling.prior import Prior

Array = NDArray[np.float64]

LARGEST_RATIO = 1e5
"""A factor's standard deviation over the residual's beyond which no residual is left to speak of."""
NEAR_ZERO = 0.05
"""Ratios under this are tried at exactly 0."""
REOPENED = 0.1
"""Where a ratio starts again when 0 turns out not to be the best."""


def restricted_sds(blocks: Blocks) -> Array:
    """Return the standard deviations (k + 1,) of the restricted likelihood, the residual last.

    A variance whose best value is the boundary is returned as exactly 0.

    Raises
    ------
    ValueError
        The levels and fixed effects explain y without any residual.
    """
    flat = np.zeros(blocks.spans[-1].stop - blocks.spans[-1].start)
    start = np.ones(len(blocks.names))
    _refuse_no_residual(blocks, solve(blocks, start, flat, None).variance)

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
    if (_falls_inward(blocks, theta, flat) & (theta == 0.0)).any():
        theta = best(blocks, np.maximum(theta, REOPENED))
    variance = solve(blocks, theta**2, flat, None).variance
    _refuse_no_residual(blocks, 0.0 if theta.max(initial=0.0) >= LARGEST_RATIO else variance)
    return np.asarray(np.append(theta, 1.0) * np.sqrt(variance), dtype=np.float64)


def believed_sds(blocks: Blocks, precision: Array, prior: Prior) -> Array:
    """Return the standard deviations (k + 1,) that maximise likelihood times prior, the residual last."""
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

    return np.asarray(np.exp(_best_in_two_steps(blocks, typical, best, objective)), dtype=np.float64)


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


def _refuse_no_residual(blocks: Blocks, variance: float) -> None:
    if variance * blocks.rows <= 1e-14 * blocks.total or blocks.total == 0.0:
        raise ValueError(
            "y must vary beyond its levels and fixed effects when no prior is given, got no residual"
        )
