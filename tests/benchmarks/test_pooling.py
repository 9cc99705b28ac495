"""How long a million rows are pooled, in CPU seconds and as ratios to floors of the same run; by hand, see DEVELOPERS.md.

Floors: plain numpy that sums the same arrays up by level and solves the small factors' normal equations; and statsmodels
until it converges, on rows few enough for it.
"""

import time

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

from fleet.science.pooling import fit
from tests.benchmarks.seasons import least_s, peak_mb, rises

GOAL_S, GOAL_MB = 5.0, 500.0
KINDS = {
    "unweighted": {},
    "weighted": {"columns": 3, "weighted": True},
    "believed": {"columns": 3, "weighted": True, "believed": True},
}
MODERATE = {"rider": (500, 5.0), "product": (40, 3.0), "track": (10, 2.0)}


def plain(y, x, groups, weights):
    """Sum up by level, and solve for x and the small factors' levels, with a ridge of one row each."""
    np.bincount(groups["rider"], weights * y)
    sizes = [groups[name].max() + 1 for name in ("product", "track")]
    product, track = groups["product"], groups["track"]
    cross = np.bincount(product * sizes[1] + track, weights, sizes[0] * sizes[1]).reshape(sizes)
    sides = [np.bincount(codes, weights * y) for codes in (product, track)]
    numbers = [
        np.column_stack([np.bincount(codes, weights * column) for column in x.T])
        for codes in (product, track)
    ]
    square = np.block(
        [
            [np.diag(cross.sum(axis=1)), cross, numbers[0]],
            [cross.T, np.diag(cross.sum(axis=0)), numbers[1]],
            [numbers[0].T, numbers[1].T, x.T @ (weights[:, None] * x)],
        ]
    )
    return np.linalg.solve(square + np.eye(len(square)), np.concatenate([*sides, x.T @ (weights * y)]))


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("kind", KINDS)
def test_pool_a_million_rows(benchmark, kind):
    rows, keywords = rises(**KINDS[kind])
    weights = keywords.get("weights", np.ones(len(rows[0])))
    floor_s = least_s(plain, *rows, weights)
    benchmark.extra_info["peak_mb"] = peak_mb(kind)

    benchmark.pedantic(fit, rows, keywords, rounds=3, warmup_rounds=1)

    benchmark.extra_info["plain_numpy_s"] = floor_s
    benchmark.extra_info["times_plain_numpy"] = benchmark.stats["min"] / floor_s
    assert benchmark.stats["min"] < GOAL_S
    assert benchmark.extra_info["peak_mb"] < GOAL_MB


@pytest.mark.benchmark(timer=time.process_time)
def test_pool_as_well_as_statsmodels_does(benchmark):
    (y, x, groups), _ = rises(10_000, MODERATE)
    started = time.process_time()
    # Crossed factors in statsmodels: one group for all rows and a variance component each.
    theirs = MixedLM(y, x, np.zeros(len(y)), exog_vc=_dummies(groups)).fit(reml=True, method="lbfgs")
    their_s = time.process_time() - started

    ours = benchmark.pedantic(fit, (y, x, groups), rounds=10, warmup_rounds=1)

    benchmark.extra_info["rows"] = len(y)
    benchmark.extra_info["statsmodels_s"] = their_s
    benchmark.extra_info["times_faster"] = their_s / benchmark.stats["min"]
    benchmark.extra_info["statsmodels_deviance_above_ours"] = -2 * theirs.llf - ours.reml_deviance
    assert theirs.converged
    assert ours.reml_deviance == pytest.approx(-2 * theirs.llf, abs=1e-2)
    assert ours.reml_deviance <= -2 * theirs.llf + 1e-6


def _dummies(groups):
    matrices = {name: np.eye(codes.max() + 1)[codes] for name, codes in groups.items()}
    return VCSpec(
        list(matrices),
        [[[str(level) for level in range(matrix.shape[1])]] for matrix in matrices.values()],
        [[matrix] for matrix in matrices.values()],
    )
