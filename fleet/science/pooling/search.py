"""Find the standard deviations that make the rows likeliest."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fleet.science.pooling.absorption import Direct, centred, rough
from fleet.science.pooling.blocks import Blocks
from fleet.science.pooling.likelihood import Solution, slopes, solve
from fleet.science.pooling.minimum import Objective, minimise
from fleet.science.pooling.prior import Prior

Array = NDArray[np.float64]

LARGEST_RATIO = 1e10
"""A factor's variance over the residual's beyond which no residual is left to speak of."""
NO_RESIDUAL = 1e-12
"""Share of the sum of squares under which what is left is rounding."""
NEAR = 1e-4
"""Last step, relative to the parameter, on rounded masses: they are no better than that."""
SHORT_MOVE = 1e-6
"""Move, relative to the parameter, whose square is nothing."""
MOST_CENTRES = 6


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

    def ratio(point: Array) -> float:
        return float(unit[0] * np.expm1(point[0]))

    point, near = _best(blocks, start, objective, ratio, limit)
    solution = solve(near, unit * np.expm1(point), flat, None)
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

    def ratio(logs: Array) -> float:
        return float(np.exp(2.0 * (logs[0] - logs[-1])))

    logs, near = _best(blocks, typical, objective, ratio, None)
    sds = np.exp(logs)
    return solve(near, (sds[:-1] / sds[-1]) ** 2, precision, float(sds[-1] ** 2))


def _best(
    blocks: Blocks,
    start: Array,
    objective: Callable[[Blocks], Objective],
    ratio: Callable[[Array], float],
    limit: Array | None,
) -> tuple[Array, Blocks]:
    """Return where the objective is least, and blocks that are exact there.

    Where a rough absorption pays, the search runs on that; then it is set right where the search ended, and the
    search goes on from there until it stays.
    """
    route = blocks.absorbed
    if not isinstance(route, Direct) or (near := rough(route)) is None:
        return minimise(objective(blocks), start, limit), blocks
    point = minimise(objective(replace(blocks, absorbed=near)), start, limit, NEAR)
    for _ in range(MOST_CENTRES):
        right = replace(blocks, absorbed=centred(route, near, ratio(point)))
        left, point = point, minimise(objective(right), point, limit)
        if (np.abs(point - left) <= SHORT_MOVE * np.maximum(np.abs(point), 0.1)).all():
            return point, right
    return minimise(objective(blocks), point, limit), blocks


def _units(blocks: Blocks) -> Array:
    """Return the ratio (k,) at which a factor's average level is believed by half.

    The search runs over log(1 + ratio / unit): linear near 0, where the boundary would otherwise be a flat
    trap, and logarithmic far above it.
    """
    sizes = [float(len(blocks.mass)), *(float(span.stop - span.start) for span in blocks.spans[:-1])]
    return np.array(sizes[: len(blocks.names)]) / max(float(blocks.mass.sum()), 1e-300)


def _flat(blocks: Blocks) -> Array:
    """Return the precision of fixed effects of which nothing is believed."""
    return np.zeros(blocks.spans[-1].stop - blocks.spans[-1].start)
