"""How long sets of one product really last, with most of them still running; two products compared."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter
from lifelines.statistics import logrank_test
from lifelines.utils import median_survival_times, restricted_mean_survival_time
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from fleet.science.product_life import compare, survival_curve
from tests.science.lives_data import (
    ABSORBERS,
    LATE_DURATIONS,
    LATE_FROM,
    LATE_WORN,
    PLACEBO,
    SETS,
    TREATED,
    ends,
    invented,
    sample,
)

# Published: the survival curve.


def test_the_curve_of_a_published_trial_is_the_one_printed():
    # R survival, summary of survfit for the 6-MP group of Freireich et al. (1963); Klein and Moeschberger (2003), table
    # 4.1, has the same shares and standard errors.
    found = survival_curve(*sample(TREATED), transform="log")

    assert found.durations.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert found.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    assert found.survival == pytest.approx([0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448], abs=5e-4)
    assert found.se == pytest.approx([0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346], abs=5e-5)
    assert found.low == pytest.approx([0.720, 0.653, 0.586, 0.510, 0.439, 0.337, 0.249], abs=5e-4)
    assert found.high == pytest.approx([1.000, 0.996, 0.968, 0.935, 0.896, 0.858, 0.807], abs=5e-4)


def test_a_curve_that_ends_at_nothing_has_no_interval_there():
    # R survival, summary of survfit for the placebo group: the last row reads 0.0000, NaN, NA, NA.
    found = survival_curve(*sample(PLACEBO), transform="log")

    assert found.survival[[0, 5, -2, -1]] == pytest.approx([0.9048, 0.3810, 0.0476, 0], abs=5e-5)
    assert found.se[:-1][[0, 5, -1]] == pytest.approx([0.0641, 0.1060, 0.0465], abs=5e-5)
    assert found.high[:-1][[0, 5, -1]] == pytest.approx([1, 0.657, 0.322], abs=5e-4)
    assert np.isnan([found.se[-1], found.low[-1], found.high[-1]]).all()


@pytest.mark.parametrize(
    ("group", "transform", "median", "interval"),
    [
        (TREATED, "log", 23, [16, np.inf]),
        (PLACEBO, "log", 8, [4, 12]),
        (TREATED, "log-log", 23, [13, np.inf]),
        (PLACEBO, "log-log", 8, [4, 11]),
    ],
)
def test_the_medians_of_the_trial_have_the_intervals_in_print(group, transform, median, interval):
    # R survival, print of survfit for the same trial, conf.type log and log-log (from memory).
    found = survival_curve(*sample(group), transform=transform).median

    assert found.value == median
    assert ends(found) == interval


def test_sets_first_seen_part_worn_count_from_then_on():
    # R survival, survfit(coxph(Surv(entry, times, status) ~ 1), type = "kaplan-meier"), as printed in statsmodels'
    # tests of SurvfuncRight.
    found = survival_curve(LATE_DURATIONS, LATE_WORN, seen_from=LATE_FROM)

    assert found.at_risk.tolist() == [2, 6, 9, 7, 5, 3, 2]
    assert found.survival == pytest.approx([0.5000, 0.4167, 0.3241, 0.2778, 0.2222, 0.1481, 0.0741], abs=5e-5)
    assert found.se == pytest.approx([0.3536, 0.3043, 0.2436, 0.2132, 0.1776, 0.1330, 0.0846], abs=5e-5)


# Published: the comparison.


def test_the_trial_s_groups_differ_as_printed():
    # R survival, print of survdiff: expected 19.3 and 10.7, chi-squared 16.8, p 4e-05; textbooks print 16.79.
    (days, worn), (days_b, worn_b) = sample(TREATED), sample(PLACEBO)

    found = compare(days + days_b, worn + worn_b, [False] * 21 + [True] * 21)

    assert found.worn == (9, 21)
    assert found.expected == pytest.approx((19.3, 10.7), abs=0.05)
    assert found.chi_squared == pytest.approx(16.79, abs=5e-3)
    assert found.p_value == pytest.approx(4e-5, abs=5e-6)


@pytest.mark.parametrize(
    ("durations", "worn", "seen_from", "chi_squared", "p_value"),
    [
        ([5, 3, 4, 2, 5, 4, 6, 7, 5, 9], [1, 1, 0, 1, 1, 0, 1, 1, 0, 0], 0, 6.694424, 0.00967149),
        ([5, 3, 4, 2, 5, 4, 6, 7, 5, 9], [1, 1, 0, 1, 1, 0, 1, 1, 0, 0],
         [1, 2, 2, 1, 3, 3, 5, 4, 2, 5], 3.0, 0.083264516),
        ([2, 1, 5, 8, 7, 8, 8, 9, 4, 9], [1, 1, 1, 1, 1, 0, 1, 0, 0, 0], 0, 6.9543024, 0.008361789),
    ],
)  # fmt: skip
def test_two_groups_with_delayed_entry_differ_as_printed(durations, worn, seen_from, chi_squared, p_value):
    # Stata, sts test group, logrank, as printed in statsmodels' tests of survdiff.
    found = compare(durations, worn, [0] * 5 + [1] * 5, seen_from=seen_from)

    assert found.chi_squared == pytest.approx(chi_squared, rel=5e-7)
    assert found.p_value == pytest.approx(p_value, rel=5e-7)


# Independent.


@pytest.mark.parametrize("transform", ["log-log", "log"])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_curve_agrees_with_two_general_libraries(transform, seed):
    durations, worn, since = invented(seed)
    theirs = SurvfuncRight(durations, worn, entry=since)
    fitted = KaplanMeierFitter().fit(durations, worn, entry=since)

    found = survival_curve(durations, worn, seen_from=since, transform=transform)

    assert found.survival == pytest.approx(theirs.surv_prob, abs=1e-12)
    assert found.se[:-1] == pytest.approx(theirs.surv_prob_se[:-1], abs=1e-12)
    assert found.median.value == theirs.quantile(0.5) == fitted.median_survival_time_
    method = {"log-log": "cloglog"}.get(transform, transform)
    assert ends(found.median) == list(theirs.quantile_ci(0.5, method=method))


def test_the_interval_of_the_curve_agrees_with_a_general_library():
    durations, worn, since = invented(3)
    fitted = KaplanMeierFitter().fit(durations, worn, entry=since)
    limits = fitted.confidence_interval_.loc[np.unique(durations[worn])].to_numpy()

    found = survival_curve(durations, worn, seen_from=since)

    inside = found.survival > 0
    assert np.column_stack([found.low, found.high])[inside] == pytest.approx(limits[inside], abs=1e-9)
    assert ends(found.median) == median_survival_times(fitted.confidence_interval_).iloc[0].tolist()


def test_without_delayed_entry_it_agrees_with_the_censored_step_function_of_a_third():
    durations, worn = sample(ABSORBERS)
    sorted_out = stats.CensoredData.right_censored(durations, ~np.array(worn))

    asked = [0, 6700, 6701, 18000, 27490]

    assert survival_curve(durations, worn).chance_beyond(asked) == pytest.approx(
        stats.ecdf(sorted_out).sf.evaluate(asked), abs=1e-12
    )


@pytest.mark.filterwarnings("ignore:Starting with pandas version")
def test_the_comparison_agrees_with_general_libraries():
    (a, worn_a, since_a), (b, worn_b, since_b) = invented(4), invented(5)
    late = np.where(np.concatenate([a, b]) < 2, 0, np.concatenate([since_a, since_b]))
    durations, worn = np.concatenate([a, 1.4 * b]), np.concatenate([worn_a, worn_b])
    is_second = np.arange(durations.size) >= a.size

    plain = compare(durations, worn, is_second, horizon=8.0)
    delayed = compare(durations, worn, is_second, seen_from=late)

    theirs = logrank_test(a, 1.4 * b, worn_a, worn_b)
    curves = [KaplanMeierFitter().fit(*group) for group in ((a, worn_a), (1.4 * b, worn_b))]
    means = [restricted_mean_survival_time(each, t=8.0) for each in curves]
    assert [plain.chi_squared, plain.p_value] == pytest.approx([theirs.test_statistic, theirs.p_value])
    assert plain.mean_difference.value == pytest.approx(means[1] - means[0], abs=1e-9)
    chi_squared, p_value = survdiff(durations, worn, is_second, entry=late)
    assert [delayed.chi_squared, delayed.p_value] == pytest.approx([chi_squared, p_value])


def test_part_worn_sets_bias_nothing_when_it_is_said_how_far_they_had_run():
    durations, worn, since = invented(12, sets=6000)

    told = survival_curve(durations, worn, seen_from=since)
    untold = survival_curve(durations, worn)

    truth = np.exp(-((4.0 / 6) ** 3))
    assert told.chance_beyond(4.0) == pytest.approx(truth, abs=0.02)
    assert untold.chance_beyond(4.0) > truth + 0.03


# Laws.


@given(SETS, st.randoms())
def test_the_order_of_sets_does_not_matter(sets, random):
    durations, worn = sets
    order = random.sample(range(durations.size), durations.size)

    mixed = survival_curve(durations[order], worn[order])

    assert mixed.survival.tolist() == survival_curve(durations, worn).survival.tolist()


@given(SETS, st.floats(min_value=1e-3, max_value=1e3))
def test_another_unit_scales_lives_and_leaves_shares(sets, factor):
    durations, worn = sets

    ours, theirs = survival_curve(durations, worn), survival_curve(factor * durations, worn)

    assert theirs.survival == pytest.approx(ours.survival)
    assert theirs.median.value == pytest.approx(factor * ours.median.value, nan_ok=True)


@given(st.lists(st.integers(min_value=1, max_value=30), min_size=1, max_size=25), st.integers(0, 31))
def test_where_all_wore_out_the_curve_is_the_share_left(durations, asked):
    found = survival_curve(durations, np.ones(len(durations)))

    assert found.chance_beyond(asked) == pytest.approx(np.mean(np.array(durations) > asked), abs=1e-12)


@given(st.lists(st.integers(min_value=1, max_value=30), min_size=1, max_size=25))
def test_where_none_wore_out_all_last_as_far_as_they_were_seen(durations):
    found = survival_curve(durations, np.zeros(len(durations)))

    assert found.chance_beyond([0, max(durations)]).tolist() == [1, 1]
    assert np.isnan(found.chance_beyond(max(durations) + 1))
    assert found.median.value == np.inf
    assert np.isnan(found.median.low)


@given(SETS)
def test_the_curve_falls_and_lies_in_its_interval(sets):
    found = survival_curve(*sets)

    assert (np.diff(found.survival, prepend=1) < 0).all()
    inside = found.survival > 0
    assert (found.low[inside] <= found.survival[inside]).all()
    assert (found.survival[inside] <= found.high[inside]).all()
    assert ((found.low[inside] >= 0) & (found.high[inside] <= 1)).all()


@given(SETS, SETS)
def test_which_product_comes_first_changes_only_the_sign(first, second):
    durations, worn = (np.concatenate(column) for column in zip(first, second, strict=True))
    is_second = np.arange(durations.size) >= first[0].size

    ours, theirs = compare(durations, worn, is_second), compare(durations, worn, ~is_second)

    assert ours.chi_squared == pytest.approx(theirs.chi_squared, rel=1e-6, abs=1e-9, nan_ok=True)
    assert ours.mean_difference.value == pytest.approx(-theirs.mean_difference.value, abs=1e-9)
    assert ours.mean_difference.low == pytest.approx(-theirs.mean_difference.high, abs=1e-9)


def test_without_censoring_the_mean_life_has_the_error_of_a_mean():
    # By hand: Greenwood's formula then gives the plain variance of the durations cut at the horizon over their number.
    rng = np.random.default_rng(13)
    a, b = rng.integers(1, 15, 20), rng.integers(3, 18, 25)
    cut_a, cut_b = np.minimum(a, 12), np.minimum(b, 12)

    found = compare(np.concatenate([a, b]), np.ones(45), np.arange(45) >= 20, horizon=12.0)

    half = 1.959963984540054 * np.sqrt(cut_a.var() / 20 + cut_b.var() / 25)
    difference = cut_b.mean() - cut_a.mean()
    assert found.mean_difference.value == pytest.approx(difference)
    assert ends(found.mean_difference) == pytest.approx([difference - half, difference + half])


# What is not known.


def test_the_median_of_sets_that_all_wore_out_is_the_middle_one():
    # Half of 24 sets are left after the 12th; the product of the 12 shares in binary is above a half by its last digit.
    assert survival_curve(range(1, 25), [True] * 24).median.value == 12


def test_a_stretch_nobody_watched_leaves_the_rest_unknown():
    gap = survival_curve([3, 9], [False, True], seen_from=[0, 5])
    all_gone = survival_curve([3, 9], [True, True], seen_from=[0, 3])

    assert gap.seen_to == 3
    assert gap.chance_beyond([2, 3, 4, 9]) == pytest.approx([1, 1, np.nan, np.nan], nan_ok=True)
    assert all_gone.chance_beyond([2, 3]) == pytest.approx([1, np.nan], nan_ok=True)
    assert np.isnan(all_gone.median.value)


def test_without_sets_nothing_is_known():
    found = survival_curve([], [])

    assert np.isnan([found.median.value, found.since, found.seen_to]).all()
    assert np.isnan(found.chance_beyond(0))


def test_products_that_cannot_be_told_apart_are_not():
    nothing_worn = compare([3, 4], [0, 0], [0, 1])
    one_missing = compare([3, 4], [1, 1], [0, 0])
    part_worn = compare([3, 4, 5], [1, 1, 1], [0, 0, 1], seen_from=[0, 0, 2])

    assert np.isnan([nothing_worn.chi_squared, nothing_worn.p_value, one_missing.p_value]).all()
    assert nothing_worn.mean_difference.value == 0
    assert np.isnan([one_missing.mean_difference.value, part_worn.mean_difference.value]).all()


def test_sets_that_tell_nothing_are_left_out():
    known = survival_curve([2, 5, 7], [1, 0, 1])

    found = survival_curve([2, np.nan, 5, 0, 7, 4], [1, 1, 0, 0, 1, 0], seen_from=[0, 0, 0, 0, 0, 4])

    assert found.sets == 3
    assert found.survival.tolist() == known.survival.tolist()


def test_nan_stays_where_it_was():
    found = survival_curve(*sample(PLACEBO))

    assert np.isnan(found.chance_beyond([3, np.nan])).tolist() == [False, True]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: survival_curve([-1], [1]), "durations must be at least 0, not -1"),
        (lambda: survival_curve([0, 3], [1, 1]), "durations of worn sets must be above seen_from, not 0"),
        (lambda: survival_curve([3, 4], [1]), r"is_worn must have the one-dimensional shape of durations \(2,\)"),
        (lambda: survival_curve([3], [0.5]), r"is_worn must be true or false, not 0\.5"),
        (lambda: survival_curve([3], [1], seen_from=4), "seen_from must be at most the duration 3, not 4"),
        (lambda: survival_curve([3], [1], seen_from=-1), "seen_from must be at least 0, not -1"),
        (lambda: survival_curve([3], [1], transform="plain"), "transform must be log-log or log, not plain"),
        (lambda: survival_curve([3], [1], level=1.0), "level must be between 0 and 1, not 1"),
        (lambda: compare([3, 4], [1, 1], [0, 1], horizon=9), "horizon must be at most 3, not 9"),
        (lambda: compare([[3, 4]], [[1, 1]], [[0, 1]]), "is_second must have the one-dimensional shape"),
        (lambda: compare([3, 4], [1, 1], [0, 2]), "is_second must be true or false, not 2"),
    ],
)  # fmt: skip
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
