import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats
from scipy.linalg import block_diag, toeplitz
from statsmodels.regression.linear_model import GLS

from fleet.science.laps import (
    CAUSE_OPEN,
    DIFFERENT,
    NOT_TOLD_APART,
    compare,
    consistency,
    robust_sd,
    there_and_back,
)
from fleet.science.laps.drift import neighbor_correlation

STEADY = [100.3, 99.8, 100.1, 100.6, 99.7, 100.0, 100.2]
FASTER = [98.2, 97.7, 98.1, 98.3, 97.6, 98.0, 97.9]
LAPS = st.lists(st.floats(min_value=60, max_value=150), min_size=1, max_size=12)


def codes(found):
    return [doubt.code for doubt in found.doubts]


def test_a_run_is_described_by_hand():
    # Sorted 99.7 99.8 100.0 100.1 100.2 100.3 100.6: median 100.1; distances 0.4 0.3 0.1 0 0.1 0.2 0.5: median 0.2,
    # times 1.4826 and the correction 1.140 for seven values.
    found = consistency(STEADY)

    assert found.count == 7
    assert found.median_s == 100.1
    assert found.range_s == pytest.approx(0.9)
    assert found.spread_s == pytest.approx(0.2 * 1.4826 * 1.140, abs=5e-5)
    assert found.set_aside == ()
    assert found.doubts == ()


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15])
def test_the_spread_of_few_laps_is_right_on_average(count):
    # Independent: the mean over simulated normal laps, standard error under 0.004.
    laps = np.random.default_rng(count).normal(size=(8000, count))
    distance = np.median(np.abs(laps - np.median(laps, axis=1, keepdims=True)), axis=1)
    of_one = robust_sd(laps[0]) / distance[0]

    assert of_one * distance.mean() == pytest.approx(1.0, abs=0.02)


def test_the_drift_is_hollander_and_wolfes_slope():
    # Nonparametric Statistical Methods, third edition, example 9.1: slope -0.05625, over laps 1 to 5.
    found = consistency(np.add([1.26, 1.27, 1.12, 1.16, 1.03], 100))

    assert found.drift_s.value == pytest.approx(-0.05625, abs=5e-6)


def test_a_lap_in_traffic_is_set_aside_and_shown():
    found = consistency([100.3, 99.8, 104.1, 100.6, 99.7, 100.0, 100.2, 100.1])

    assert [(lap.lap, lap.time_s, lap.reason) for lap in found.set_aside] == [(3, 104.1, "slow")]
    assert found.lap.tolist() == [1, 2, 4, 5, 6, 7, 8]


def test_the_limit_is_three_and_a_half_robust_deviations():
    # By hand: median 100, median distance 1.0, limit 100 + 3.5 * 1.4826 = 105.19.
    laps = [98.0, 99.0, 99.0, 100.0, 101.0, 101.0]

    assert consistency([*laps, 105.1]).set_aside == ()
    assert consistency([*laps, 105.3]).set_aside[0].time_s == 105.3


def test_a_very_even_run_keeps_a_lap_within_one_and_a_half_percent():
    # By hand: median 100, median distance 0.1; three and a half deviations are 0.52, the floor is 1.5.
    laps = [99.9, 100.0, 100.0, 100.1, 100.1, 99.9]

    assert consistency([*laps, 101.4]).set_aside == ()
    assert consistency([*laps, 101.6]).count == 6


def test_a_fast_lap_always_stays():
    assert consistency([*STEADY, 92.0]).set_aside == ()


def test_out_and_in_laps_go_where_they_are_told():
    found = consistency([100.4, *STEADY, 100.5], out_lap=True, in_lap=True)

    assert [(lap.lap, lap.reason) for lap in found.set_aside] == [(1, "out lap"), (9, "in lap")]
    assert found.time_s.tolist() == STEADY


def test_unmarked_out_and_in_laps_go_as_slow_ones():
    found = consistency([131.0, *STEADY, 118.0])

    assert [(lap.lap, lap.reason) for lap in found.set_aside] == [(1, "slow"), (9, "slow")]


def test_a_lap_that_was_not_timed_keeps_its_place():
    found = consistency([100.0, np.nan, 100.2, 100.3])

    assert found.lap.tolist() == [1, 3, 4]
    assert found.ridden == 4
    assert found.set_aside == ()


def test_few_laps_and_much_traffic_are_said():
    assert codes(consistency([100.0, 100.4, 99.9])) == ["too_few_laps"]
    assert codes(consistency([100.0, 100.4, 110.0, 99.9, 120.0])) == ["too_few_laps", "much_traffic"]


def test_no_laps_are_a_doubt_and_not_an_error():
    found = consistency([])

    assert codes(found) == ["too_few_laps"]
    assert np.isnan([found.median_s, found.spread_s, found.range_s, found.drift_s.value]).all()


@given(LAPS, st.floats(min_value=0.5, max_value=2))
def test_laps_in_another_unit_of_time_are_the_same_run(laps, factor):
    found, scaled = consistency(laps), consistency(np.multiply(laps, factor))
    assume(found.lap.tolist() == scaled.lap.tolist())

    assert scaled.median_s == pytest.approx(found.median_s * factor)
    assert scaled.spread_s == pytest.approx(found.spread_s * factor, abs=1e-9, nan_ok=True)


@given(LAPS)
def test_the_laps_that_count_and_those_set_aside_are_the_run(laps):
    found = consistency(laps)

    assert sorted([*found.time_s, *(lap.time_s for lap in found.set_aside)]) == sorted(laps)
    assert all(lap.time_s > found.median_s for lap in found.set_aside)
    assert 2 * found.count >= len(laps)


@pytest.mark.parametrize("laps", [[100.0, 0.0], [100.0, -3.0], [np.inf], [[100.0]]])
def test_impossible_lap_times_are_refused(laps):
    with pytest.raises(ValueError, match="lap_times_s must"):
        consistency(laps)


def test_the_plain_shift_and_its_p_are_those_of_the_r_help():
    # Documentation of wilcox.test (Hollander and Wolfe): two-sided exact p twice 0.1272, shift 0.305, -0.15 to 0.76.
    # A hundred seconds on every lap changes no difference and lets all count.
    x = np.add([0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46], 100)
    y = np.add([1.15, 0.88, 0.90, 0.74, 1.21], 100)

    found = compare(y, x).plain

    assert found.p_value / 2 == pytest.approx(0.1272, abs=5e-5)
    assert (found.shift_s.value, found.shift_s.low, found.shift_s.high) == pytest.approx((0.305, -0.15, 0.76))


@pytest.mark.parametrize("correlation", [0.0, 0.4])
def test_the_shift_beside_a_drift_is_that_of_a_general_least_squares_library(correlation):
    # The third lap of the second run goes as slow, so that the lap numbers have a gap.
    a, b = [100.1, 100.4, 100.2, 100.9, 100.6], [99.0, 99.5, 130.0, 99.1, 99.9, 99.4]
    kept = [99.0, 99.5, 99.1, 99.9, 99.4]
    lap_a, lap_b = np.arange(1.0, 6), np.array([1.0, 2, 4, 5, 6])
    noise = block_diag(
        toeplitz(correlation ** np.arange(5.0)),
        correlation ** np.abs(lap_b[:, None] - lap_b),
    )

    found = compare(a, b, laps_between=4, lap_correlation=correlation)

    for difference, begin in ((found.by_lap, 0), (found.by_clock, 5 + 4)):
        design = np.column_stack([np.ones(10), np.repeat([0, 1], 5), np.concatenate([lap_a, begin + lap_b])])
        fitted = GLS(np.concatenate([a, kept]), design, sigma=noise).fit()
        shift = difference.shift_s
        assert (shift.low, shift.high) == pytest.approx(tuple(fitted.conf_int()[1]), abs=1e-8)
        assert (shift.value, difference.p_value) == pytest.approx((fitted.params[1], fitted.pvalues[1]))


def test_the_clock_runs_on_while_a_lap_does_not_count():
    # By hand: laps of 100 + 0.1 a lap through both runs, but one of the first run was in traffic: the second run begins
    # eight laps on, and beside that drift nothing is left between the runs.
    first = 100.0 + 0.1 * np.arange(8)
    first[3] = 130.0

    found = compare(first, 100.0 + 0.1 * np.arange(8, 15))

    assert found.a.count == 7
    assert found.by_clock.shift_s.value == pytest.approx(0.0, abs=1e-9)


def test_a_clear_difference_is_called():
    found = compare(STEADY, FASTER)

    assert found.verdict == DIFFERENT
    assert found.plain.shift_s.high < 0
    assert found.doubts == ()


def test_a_run_compared_with_itself_is_not_told_apart():
    assert compare(STEADY, STEADY).verdict == NOT_TOLD_APART
    assert compare([100.0] * 7, [100.0] * 7).verdict == NOT_TOLD_APART


def test_three_laps_each_cannot_decide_and_say_so():
    # By hand: 2 of the 20 splits of six laps are as clear as can be.
    found = compare(STEADY[:3], FASTER[:3])

    assert found.verdict == NOT_TOLD_APART
    assert codes(found) == ["too_few_laps", "too_few_laps", "cannot_decide"]
    assert "10%" in found.doubts[-1].text


def test_runs_without_laps_are_not_told_apart():
    found = compare([], FASTER)

    assert found.verdict == NOT_TOLD_APART
    assert np.isnan(found.plain.p_value)


def test_two_drifting_runs_are_named_with_their_rates():
    drift = 0.25 * np.arange(7)

    both, one = compare(STEADY + drift, FASTER + drift), compare(STEADY + drift, FASTER)

    assert codes(both) == ["both_runs_drift"]
    assert "+0.2" in both.doubts[0].text
    assert codes(one) == ["one_run_drifts"]


def test_a_small_difference_leaves_the_track_as_a_cause():
    found = compare(STEADY, np.subtract(STEADY, 0.6))

    assert found.verdict == CAUSE_OPEN
    assert codes(found) == ["track_drift_could_explain"]


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"track_c_a": 31.0, "track_c_b": 38.0}, "track_temperature_changed"),
        ({"track_c_a": 38.0, "track_c_b": 31.0}, "track_temperature_changed"),
        ({"changes": 2}, "more_than_one_change"),
    ],
)
def test_what_else_changed_opens_the_cause_of_a_clear_difference(told, code):
    found = compare(STEADY, FASTER, **told)

    assert found.verdict == CAUSE_OPEN
    assert codes(found) == [code]


@pytest.mark.parametrize(
    "told",
    [{"track_c_a": 31.0, "track_c_b": 35.0}, {"track_c_b": 50.0}, {"track_c_a": np.nan, "track_c_b": 50.0}],
)
def test_a_like_or_unknown_track_temperature_is_no_doubt(told):
    assert compare(STEADY, FASTER, **told).doubts == ()


def test_laps_that_hang_together_are_noticed():
    wave = 0.5 * np.sin(np.arange(24) / 3)

    found, told = compare(100 + wave, 100 - wave), compare(100 + wave, 100 - wave, lap_correlation=0.98)

    assert "neighbors_alike" in codes(found)
    assert "neighbors_alike" not in codes(told)


def test_the_correlation_of_neighbors_is_that_of_laps_that_follow_each_other_and_has_its_textbook_chance():
    # Hand count: what a line leaves of each run, times what it leaves of the next lap, where there is one. Independent
    # values have a correlation of deviation 1 / sqrt(n): Box, Jenkins and Reinsel, Time Series Analysis, section 2.1.6
    # (from memory).
    rng = np.random.default_rng(7)
    lap = np.array([1, 2, 3, 5, 6, 9, 10, 11])
    runs = ((lap, 100.0 + rng.normal(size=8)), (lap, 99.0 + rng.normal(size=8)))
    products, squares = [], []
    for _, time in runs:
        line = stats.linregress(lap, time)
        left = dict(zip(lap.tolist(), time - line.intercept - line.slope * lap, strict=True))
        products += [left[number] * left[number + 1] for number in left if number + 1 in left]
        squares += [value**2 for value in left.values()]
    by_hand = sum(products) / sum(squares)

    found, p_value = neighbor_correlation(runs)

    assert found == pytest.approx(by_hand)
    assert p_value == pytest.approx(stats.norm.sf(by_hand, scale=1 / np.sqrt(16)))


@given(LAPS, LAPS)
def test_the_other_way_round_the_difference_is_mirrored(a, b):
    there, back = compare(a, b), compare(b, a)

    assert there.plain.p_value == pytest.approx(back.plain.p_value)
    assert there.by_lap.p_value == pytest.approx(back.by_lap.p_value, abs=1e-6, nan_ok=True)
    assert there.plain.shift_s.value == pytest.approx(-back.plain.shift_s.value)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"level": 1.0}, "level must be at least 0.5 and below 1, not 1"),
        ({"laps_between": -1}, "laps_between must be at least 0"),
        ({"lap_correlation": 1.0}, "lap_correlation must be at most 0.99"),
        ({"changes": -1}, "changes must be at least 0"),
        ({"track_c_a": -300.0}, "track_c_a must be above -273.15"),
    ],
)
def test_what_cannot_be_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        compare(STEADY, FASTER, **wrong)


def noise(rng, count, correlation):
    fresh = rng.normal(size=count)
    for lap in range(1, count):
        fresh[lap] = correlation * fresh[lap - 1] + np.sqrt(1 - correlation**2) * fresh[lap]
    return fresh


def ridden(rng, count, *, level=100.0, sd=0.5, own=0.0, track=0.0, since=0, correlation=0.0):
    """Ride a run of laps: a tire with a drift of its own, on a track that has drifted since so many laps."""
    lap = np.arange(count)
    return level + own * lap + track * (lap + since) + sd * noise(rng, count, correlation)


def verdicts(tries, counts, *, b=100.0, told=None, **how):
    rng = np.random.default_rng(20261125)
    return np.array(
        [
            compare(
                ridden(rng, counts[0], **how),
                ridden(rng, counts[1], level=b, since=counts[0], **how),
                **(told or {}),
            ).verdict
            for _ in range(tries)
        ]
    )


@pytest.mark.parametrize("counts", [(3, 7), (4, 14), (7, 7)])
@pytest.mark.parametrize("own", [0.0, 0.02, 0.1])
def test_equal_tires_that_go_off_are_called_at_all_in_at_most_six_percent(counts, own):
    assert np.mean(verdicts(400, counts, own=own) != NOT_TOLD_APART) <= 0.06


@pytest.mark.parametrize("counts", [(4, 7), (7, 7)])
@pytest.mark.parametrize("track", [-0.1, -0.03, 0.1])
def test_equal_tires_on_a_changing_track_are_called_different_in_at_most_six_percent(counts, track):
    found = verdicts(300, counts, track=track)

    assert np.mean(found == DIFFERENT) <= 0.06


def test_laps_that_hang_together_are_called_no_more_often_if_that_is_told():
    untold = verdicts(500, (7, 7), correlation=0.4)
    told = verdicts(500, (7, 7), correlation=0.4, told={"lap_correlation": 0.4})

    assert np.mean(told != NOT_TOLD_APART) <= 0.06
    assert np.mean(untold != NOT_TOLD_APART) > 0.09


def power(noncentrality, df, level):
    edge = stats.t.ppf(1 - level / 2, df)
    return stats.nct.sf(edge, df, noncentrality) + stats.nct.cdf(-edge, df, noncentrality)


@pytest.mark.parametrize("sd", [0.4, 0.6])
def test_one_percent_in_two_runs_of_seven_laps_is_found_at_the_rate_theory_allows(sd):
    # A rank test has 3 / pi of the efficiency of Student's for normal noise (Hollander, Wolfe and Chicken, section 4.5); with seven and seven values its
    # level nearest under 5 % is 2 * 65 / 3432. A slope over the clock that carries on takes the share r^2 of what the
    # two levels tell, where r is the correlation of the numbers 1 to 14 with their halves: r^2 = 12.25 / 16.25.
    clear = 1.0 / (sd * np.sqrt(2 / 7))
    found = verdicts(600, (7, 7), b=99.0, sd=sd)

    at_all, different = np.mean(found != NOT_TOLD_APART), np.mean(found == DIFFERENT)

    assert at_all == pytest.approx(power(clear * np.sqrt(3 / np.pi), 12, 2 * 65 / 3432), abs=0.05)
    assert different == pytest.approx(power(clear * np.sqrt(1 - 12.25 / 16.25), 11, 0.05), abs=0.06)


def there_and_back_again(rng, **how):
    a, b = ridden(rng, 7, track=how["track"]), ridden(rng, 7, since=7, **how)
    again = ridden(rng, 7, since=14, track=how["track"])
    return there_and_back(compare(a, b), compare(b, again))


def test_riding_the_first_tire_again_tells_the_tire_from_the_track():
    rng = np.random.default_rng(5)

    equal = np.mean([there_and_back_again(rng, track=-0.1) for _ in range(300)])
    faster = np.mean([there_and_back_again(rng, level=98.9, track=-0.02) for _ in range(200)])

    assert equal <= 0.05
    assert faster > 0.7


def test_there_and_back_proves_nothing_where_more_was_changed():
    there, back = compare(STEADY, FASTER), compare(FASTER, STEADY)

    assert there_and_back(there, back)
    assert not there_and_back(there, compare(STEADY, FASTER))
    assert not there_and_back(compare(STEADY, FASTER, changes=2), back)
