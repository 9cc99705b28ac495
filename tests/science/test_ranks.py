import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleet.science.ranks import UNKNOWN, rank_sum_p, shift, theil_sen

# Hollander, Wolfe and Chicken, Nonparametric Statistical Methods, third edition, example 9.1.
SLOPES_Y = [1.26, 1.27, 1.12, 1.16, 1.03]

# R documentation of wilcox.test, first example, after Hollander and Wolfe.
PERMEABILITY_X = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
PERMEABILITY_Y = [1.15, 0.88, 0.90, 0.74, 1.21]

# Conover, Practical Nonparametric Statistics, third edition, page 276 (farm and town boys), with many ties.
FARM = [14.8, 7.3, 5.6, 6.3, 9.0, 4.2, 10.6, 12.5, 12.9, 16.1, 11.4, 2.7]
TOWN = [
    12.7, 14.2, 12.6, 2.1, 17.7, 11.8, 16.9, 7.9, 16.0, 10.6, 5.6, 5.6, 7.6, 11.3, 8.3, 6.7, 3.6, 1.0,
    2.4, 6.4, 9.1, 6.7, 18.6, 3.2, 6.2, 6.1, 15.3, 10.6, 1.8, 5.9, 9.9, 10.6, 14.8, 5.0, 2.6, 4.0,
]  # fmt: skip

TENTHS = st.integers(min_value=-60, max_value=60).map(lambda tenths: tenths / 10)
FEW = st.lists(TENTHS, min_size=2, max_size=5)
SOME = st.lists(TENTHS, min_size=2, max_size=9)


def test_the_slope_is_that_of_hollander_and_wolfes_example():
    found = theil_sen([1, 2, 3, 4, 5], SLOPES_Y)

    assert found.value == pytest.approx(-0.05625, abs=5e-6)


def test_the_slopes_interval_is_counted_from_kendalls_distribution():
    # By hand: of the 120 orders of five laps 1 has no inversion and 4 have one, so the outermost of the ten sorted
    # slopes of the example hold the truth with 1 - 2/120, the next with 1 - 10/120.
    widest, next_one = theil_sen([1, 2, 3, 4, 5], SLOPES_Y), theil_sen([1, 2, 3, 4, 5], SLOPES_Y, level=0.9)

    assert (widest.low, widest.high, widest.level) == pytest.approx((-0.15, 0.04, 1 - 2 / 120), abs=1e-12)
    assert (next_one.low, next_one.high, next_one.level) == pytest.approx((-0.13, 0.01, 1 - 10 / 120))


def test_the_slope_with_ties_is_that_of_a_published_example():
    # Package statpsych for R, documentation of ci.theil: 0.5, 95 % interval 0.3243243 to 0.75.
    y = [21, 4, 9, 12, 35, 18, 10, 22, 24, 1, 6, 8, 13, 16, 19]
    x = [67, 28, 30, 28, 52, 40, 25, 37, 44, 10, 14, 20, 28, 40, 51]

    found = theil_sen(x, y)

    assert (found.value, found.low, found.high) == pytest.approx((0.5, 0.3243243, 0.75), abs=5e-8)


def test_few_points_with_equal_places_have_a_slope_without_an_interval():
    # By hand: the slopes between different places are 3, 4, 5 and 6.
    few = theil_sen([1, 1, 2, 2], [0.0, 1.0, 4.0, 6.0])
    ten = theil_sen([1, 1, *range(2, 10)], [0.0, 1.0, *range(4, 12)])

    assert few.value == pytest.approx(4.5)
    assert np.isnan([few.low, few.high, few.level]).all()
    assert not few.is_clear
    assert ten.level == 0.95


def test_ten_points_two_at_a_place_hold_the_truth_about_as_often_as_they_say():
    rng = np.random.default_rng(21)
    x = np.repeat(np.arange(5), 2)

    found = [theil_sen(x, 0.1 * x + rng.normal(size=10)) for _ in range(1500)]

    # Three and a half standard errors of a share of 1500.
    assert np.mean([one.low <= 0.1 <= one.high for one in found]) == pytest.approx(0.95, abs=0.02)


def test_three_points_say_how_little_their_interval_holds():
    # By hand: 2 of the 6 orders of three are monotone.
    assert theil_sen([1, 2, 3], [5.0, 5.4, 5.1]).level == pytest.approx(1 - 2 / 6)


def test_the_slopes_interval_holds_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(20)
    x = np.arange(6.0)

    found = [theil_sen(x, 0.1 * x + rng.normal(size=6), level=0.9) for _ in range(2000)]

    held = np.mean([estimate.low <= 0.1 <= estimate.high for estimate in found])
    # Four standard errors of a share of 2000.
    assert held == pytest.approx(found[0].level, abs=0.023)
    assert found[0].level >= 0.9


def test_one_point_has_no_slope():
    assert theil_sen([3], [4.0]) == UNKNOWN
    assert theil_sen([1, 2], [np.nan, 4.0]) == UNKNOWN


def test_the_rank_sum_test_is_that_of_the_r_help():
    # Documentation of wilcox.test: exact one-sided p 0.1272, large-sample without continuity correction 0.1103.
    exact, large = (
        rank_sum_p(PERMEABILITY_X, PERMEABILITY_Y),
        rank_sum_p(PERMEABILITY_X, PERMEABILITY_Y, most_exact=0),
    )

    assert exact / 2 == pytest.approx(0.1272, abs=5e-5)
    assert large / 2 == pytest.approx(0.1103, abs=5e-5)


def test_the_shift_is_that_of_hollander_and_wolfes_example():
    # The same data: shift 0.305, interval -0.15 to 0.76, which holds with 96.0 % (Hollander and Wolfe, section 4.3).
    found = shift(PERMEABILITY_Y, PERMEABILITY_X)

    assert (found.value, found.low, found.high) == pytest.approx((0.305, -0.15, 0.76), abs=1e-12)
    assert found.level == pytest.approx(0.960, abs=5e-4)


def test_ties_weigh_as_in_conovers_example():
    # Page 276: T1 = 0.6431 (from memory), so the upper tail of the normal distribution beyond it.
    assert rank_sum_p(FARM, TOWN, most_exact=0) / 2 == pytest.approx(stats.norm.sf(0.6431), abs=5e-5)


@given(FEW, FEW)
def test_every_split_is_counted_as_a_general_permutation_test_does(a, b):
    every = stats.permutation_test(
        (a, b),
        lambda x, y: stats.rankdata(np.concatenate([x, y]))[: len(x)].sum(),
        permutation_type="independent",
        n_resamples=np.inf,
        vectorized=False,
    )

    assert rank_sum_p(a, b) == pytest.approx(min(1.0, every.pvalue), abs=1e-12)


def test_many_values_are_judged_alike_by_counting_and_by_the_normal_distribution():
    rng = np.random.default_rng(3)
    a, b = rng.normal(size=30), rng.normal(0.4, size=30)

    assert rank_sum_p(a, b) == pytest.approx(rank_sum_p(a, b, most_exact=0), abs=0.003)


def test_the_interval_of_many_values_is_that_of_counting_them():
    rng = np.random.default_rng(4)
    a, b = rng.normal(size=31), rng.normal(size=31)

    found, counted = shift(a, b), shift(a[:30], b[:30])

    assert found.level == pytest.approx(0.95, abs=0.002)
    assert found.high - found.low == pytest.approx(counted.high - counted.low, rel=0.1)


def test_the_level_of_many_values_is_that_of_an_exact_test_at_the_intervals_end():
    # Independent: scipy counts U exactly. Seen from just below the interval's low end, its two-sided p is what is left,
    # but for what a normal distribution has less in its tails than U; without the half pair it would be 0.0013 off.
    rng = np.random.default_rng(6)
    a, b = rng.normal(size=31), rng.normal(size=31)

    found = shift(a, b)

    beside = stats.mannwhitneyu(b - (found.low - 1e-9), a, method="exact")
    assert found.level == pytest.approx(1.0 - beside.pvalue, abs=8e-4)


@given(SOME, SOME, TENTHS)
def test_a_shift_of_one_side_is_the_shift_found(a, b, by):
    before, after = shift(a, b), shift(a, np.asarray(b) + by)

    assert after.value == pytest.approx(before.value + by, abs=1e-9)
    assert (after.low, after.high) == pytest.approx((before.low + by, before.high + by), abs=1e-9)


@given(SOME, SOME)
def test_looked_at_from_the_other_side_everything_is_mirrored(a, b):
    there, back = shift(a, b), shift(b, a)

    assert (back.low, back.value, back.high) == pytest.approx((-there.high, -there.value, -there.low))
    assert rank_sum_p(a, b) == pytest.approx(rank_sum_p(b, a))


@given(SOME, TENTHS)
def test_a_slope_added_is_the_slope_found(y, slope):
    x = np.arange(len(y))

    before, after = theil_sen(x, y), theil_sen(x, y + slope * x)

    assert after.value == pytest.approx(before.value + slope, abs=1e-9)
    assert before.low <= before.value <= before.high


def test_nothing_on_one_side_is_not_known():
    assert shift([], [1.0]) == UNKNOWN
    assert np.isnan(rank_sum_p([np.nan], [1.0]))


@pytest.mark.parametrize("level", [0.0, 0.05, 0.49, 1.0, 95])
def test_a_level_that_no_interval_should_have_is_refused(level):
    asked = [
        lambda: shift([1.0, 2.0], [3.0], level),
        lambda: shift([], [3.0], level),
        lambda: theil_sen([1, 2, 3], SLOPES_Y[:3], level),
        lambda: theil_sen([1, 1, 3], SLOPES_Y[:3], level),
    ]

    for ask in asked:
        with pytest.raises(ValueError, match=rf"level must be at least 0\.5 and below 1, not {level:g}"):
            ask()


def test_a_slope_over_another_number_of_places_is_refused():
    with pytest.raises(ValueError, match="y must have the one-dimensional shape of x"):
        theil_sen([1, 2, 3], [1.0, 2.0])
