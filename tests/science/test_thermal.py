from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fleet.science.thermal import (
    COOLING_MIN,
    ON_TRACK_MIN,
    Segment,
    at_pit_in_c,
    counted_cycles,
    heat_cycles,
    relax_c,
    settled_c,
    time_constant_min,
    trace_c,
)

TEMPERATURES = st.floats(min_value=-20, max_value=130)
MINUTES = st.floats(min_value=0.5, max_value=60)
CONSTANTS = st.floats(min_value=3, max_value=40)
SERIES = st.lists(st.floats(min_value=0, max_value=120), max_size=30)
HOT_LAP_DAY = [75, 55, 80, 30, 78, 22]


def test_cooling_follows_newtons_law_of_cooling():
    # Newton's law, exact: 20 + 60 / e and 20 + 60 / e^2 after one and two time constants of 20 min.
    assert relax_c(80, 20, [20, 40], 20) == pytest.approx([42.0728, 28.1201], abs=5e-5)


def test_warming_follows_the_same_law():
    assert relax_c(20, 80, 15, 5) == pytest.approx(77.0128, abs=5e-5)


def test_95_percent_of_the_way_takes_three_time_constants():
    # ln 20 = 2.9957.
    assert relax_c(0, 100, 2.9957 * 6, 6) == pytest.approx(95, abs=1e-3)


def test_a_tire_on_track_agrees_with_the_integrated_differential_equation():
    solution = solve_ivp(lambda _, now: (78.0 - now) / ON_TRACK_MIN, (0, 20), [31.0], rtol=1e-10, atol=1e-10)

    assert relax_c(31.0, 78.0, 20, ON_TRACK_MIN) == pytest.approx(solution.y[0, -1], abs=1e-6)


def test_two_readings_in_the_paddock_give_the_time_constant():
    # Newton's law, exact: 10 min / ln 2, from 60 to 30 degrees over air.
    assert time_constant_min(80, 50, 20, 10) == pytest.approx(14.4270, abs=5e-5)


@given(TEMPERATURES, TEMPERATURES, MINUTES, CONSTANTS)
def test_a_stint_tells_back_where_it_was_heading(start_c, toward_c, minutes, constant):
    end_c = relax_c(start_c, toward_c, minutes, constant)

    assert settled_c(start_c, end_c, minutes, constant) == pytest.approx(toward_c, abs=1e-8)


@given(TEMPERATURES, TEMPERATURES, st.floats(min_value=0, max_value=4.9), CONSTANTS)
def test_a_late_reading_is_taken_back_to_the_pit_entry(pit_in_c, air_c, constants, constant):
    minutes = constants * constant
    later_c = relax_c(pit_in_c, air_c, minutes, constant)

    assert at_pit_in_c(later_c, air_c, minutes, constant) == pytest.approx(pit_in_c, abs=1e-8)


@given(st.floats(min_value=5, max_value=100), st.floats(min_value=-20, max_value=40), MINUTES, CONSTANTS)
def test_the_time_constant_comes_back_from_the_readings_it_made(excess_c, air_c, minutes, constant):
    second_c = relax_c(air_c + excess_c, air_c, minutes, constant)

    assert time_constant_min(air_c + excess_c, second_c, air_c, minutes) == pytest.approx(constant, rel=1e-4)


@given(TEMPERATURES, TEMPERATURES, MINUTES, MINUTES, CONSTANTS)
def test_two_stretches_of_time_are_as_good_as_one(start_c, toward_c, first_min, second_min, constant):
    halfway_c = relax_c(start_c, toward_c, first_min, constant)

    whole_c = relax_c(start_c, toward_c, first_min + second_min, constant)

    assert relax_c(halfway_c, toward_c, second_min, constant) == pytest.approx(whole_c, abs=1e-9)


@given(TEMPERATURES, TEMPERATURES, MINUTES, CONSTANTS)
def test_a_tire_never_overshoots_what_it_is_heading_for(start_c, toward_c, minutes, constant):
    now_c = relax_c(start_c, toward_c, minutes, constant)

    assert min(start_c, toward_c) - 1e-9 <= now_c <= max(start_c, toward_c) + 1e-9


def test_a_reading_after_more_than_five_time_constants_tells_nothing():
    taken_back = at_pit_in_c([60, 21, 21], 20, [10, 5 * COOLING_MIN, 5 * COOLING_MIN + 1])

    assert np.isnan(taken_back).tolist() == [False, False, True]


def test_a_day_of_three_hot_stints_with_one_long_break_is_two_heat_cycles():
    # The rule is the level crossing count of ASTM E1049-85, section 5.1, filtered by a band; counted by hand.
    assert heat_cycles(20, HOT_LAP_DAY, 60, 40) == 2
    assert counted_cycles(20, HOT_LAP_DAY, 60, 40) == (0, 4)


def test_a_short_break_saves_a_cycle_and_a_cold_lunch_costs_one():
    stint = Segment(85, 20, ON_TRACK_MIN)
    short, lunch = Segment(22, 10, COOLING_MIN), Segment(22, 75, COOLING_MIN)

    assert heat_cycles(22, [stint, short, stint], 60, 40) == 1
    assert heat_cycles(22, [stint, lunch, stint], 60, 40) == 2


def test_warmers_over_lunch_save_the_cycle():
    stint, on_warmers = Segment(85, 20, ON_TRACK_MIN), Segment(80, 75, 25.0)

    assert counted_cycles(22, [stint, on_warmers, stint], 60, 40) == (0,)


def test_segments_are_run_one_after_the_other():
    ends = trace_c(22, [Segment(85, 20, 6), Segment(22, 30, 18), 35.0])

    warm_c = relax_c(22, 85, 20, 6)
    assert ends == pytest.approx([warm_c, relax_c(warm_c, 22, 30, 18), 35.0])


def test_a_first_lap_that_stays_under_working_temperature_is_no_cycle():
    assert heat_cycles(20, [59.9, 20, 50], 60, 40) == 0


def test_a_tire_first_seen_warm_has_not_begun_a_cycle():
    assert heat_cycles(50, [80, 45, 80], 60, 40) == 0


def test_working_and_cooled_temperature_themselves_count():
    # The definition: working_c or more, after having been at or under cooled_c.
    assert counted_cycles(40, [60, 40, 60], 60, 40) == (0, 2)


def test_a_missing_temperature_is_passed_over():
    assert counted_cycles(20, [75, float("nan"), 30, 78], 60, 40) == (0, 3)


@given(SERIES, st.floats(min_value=1, max_value=40))
def test_a_wider_band_never_counts_more_cycles(series, widening_c):
    assert heat_cycles(20, series, 60 + widening_c, 40) <= heat_cycles(20, series, 60, 40)
    assert heat_cycles(20, series, 60, 40 - widening_c) <= heat_cycles(20, series, 60, 40)


@given(SERIES)
def test_points_passed_on_the_way_change_nothing(series):
    path = [20.0, *series]
    finer = [point for a, b in pairwise(path) for point in ((a + b) / 2, b)]

    assert heat_cycles(20, finer, 60, 40) == heat_cycles(20, series, 60, 40)


@given(SERIES)
def test_between_two_counted_cycles_the_tire_was_cold(series):
    counted = counted_cycles(20, series, 60, 40)

    assert all(series[index] >= 60 for index in counted)
    for earlier, later in pairwise(counted):
        assert min(series[earlier:later]) <= 40


def test_nan_stays_where_it_was():
    assert np.isnan(relax_c([80, np.nan], 20, 10, 18)).tolist() == [False, True]
    assert np.isnan(time_constant_min([80, np.nan], 50, 20, 10)).tolist() == [False, True]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: relax_c(80, 20, -1, 18), "minutes must be at least 0, not -1"),
        (lambda: relax_c(80, 20, 10, 0), "time_constant_min must be above 0, not 0"),
        (lambda: relax_c(-300, 20, 10, 18), r"start_c must be above -273\.15, not -300"),
        (lambda: settled_c(20, 60, 0, 6), "minutes must be above 0, not 0"),
        (lambda: time_constant_min(50, 80, 20, 10), "second_c must lie between air_c and first_c"),
        (lambda: time_constant_min([80, 80], [50, 15], 20, 10), "not -5 degrees over air after 60"),
        (lambda: heat_cycles(20, [75], 40, 60), r"cooled_c must be under working_c \(40\), not 60"),
        (lambda: heat_cycles(20, [75], 60, 60), r"cooled_c must be under working_c \(60\), not 60"),
        (lambda: trace_c(20, [Segment(85, 20, -6)]), "time_constant_min must be above 0, not -6"),
    ],
)
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
