import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.rolling import (
    RELEARN_PERCENT,
    Sprockets,
    gearing_change_percent,
    nearest_sprockets,
    radius_from_rollout_mm,
    ratio_change,
    road_speed_kmh,
    rolling_radius_mm,
)

RADII = st.floats(200, 360)
PAIRS = st.builds(Sprockets, st.integers(12, 18), st.integers(30, 55))


def test_a_loaded_tire_rolls_on_its_free_radius_less_a_third_of_its_deflection():
    # Blundell and Harty, The Multibody Systems Approach to Vehicle Dynamics, tire modelling, effective rolling radius
    # (from memory): Re = Ru - (Ru - Rl) / 3.
    assert rolling_radius_mm([300, 315], [12, 15]).tolist() == [296.0, 310.0]


@given(RADII, st.floats(0, 60))
def test_the_rolling_radius_lies_between_the_chord_and_the_arc_of_the_contact(radius_mm, deflection_mm):
    # A belt that keeps its length covers its arc while the axle turns by the arc's angle: the free radius. A belt
    # squeezed flat covers only the chord: R sin(a) / a, with cos(a) = 1 - deflection / R.
    half_angle = np.arccos(1.0 - deflection_mm / radius_mm)
    chord = radius_mm * np.sinc(half_angle / np.pi)

    rolling = rolling_radius_mm(radius_mm, deflection_mm)

    assert radius_mm - deflection_mm <= rolling <= radius_mm
    # sin(a) / a = 1 - a^2 / 6 and a^2 = 2 deflection / R to first order: the rule of a third is that of the chord.
    assert rolling == pytest.approx(chord, abs=0.03 * deflection_mm)


def test_a_rollout_of_two_pi_meters_is_a_radius_of_one_meter():
    assert radius_from_rollout_mm(2000 * np.pi) == pytest.approx(1000.0)


def test_a_larger_rear_tire_changes_the_ratio_and_asks_for_caution():
    # By hand: (296 / 321) / (296 / 310) - 1 = 310 / 321 - 1 = -3.427 %; 312 / 310 leaves -0.641 %.
    change = ratio_change(296, 310, 296, [321, 312])

    assert change.before == pytest.approx(296 / 310)
    assert change.change_percent == pytest.approx([-3.427, -0.641], abs=5e-4)
    assert change.may_need_relearning.tolist() == [True, False]


def test_the_limit_of_caution_can_be_set():
    assert ratio_change(296, 310, 296, 312, relearn_percent=0.5).may_need_relearning


@given(RADII, RADII, st.floats(0.9, 1.1))
def test_growing_both_tires_alike_needs_no_learning(front_mm, rear_mm, growth):
    change = ratio_change(front_mm, rear_mm, growth * front_mm, growth * rear_mm)

    assert change.change_percent == pytest.approx(0.0, abs=1e-9)
    assert not change.may_need_relearning


@given(RADII, st.floats(RELEARN_PERCENT + 0.01, 10))
def test_caution_does_not_care_which_way_the_ratio_went(radius_mm, percent):
    growth = 1 + percent / 100

    assert ratio_change(radius_mm, 310, radius_mm * growth, 310).may_need_relearning
    assert ratio_change(radius_mm * growth, 310, radius_mm, 310 * growth).may_need_relearning


def test_an_unknown_radius_gives_no_caution():
    change = ratio_change(296, 310, 296, np.nan)

    assert np.isnan(change.change_percent)
    assert not change.may_need_relearning


def test_gearing_follows_the_rear_wheel_and_the_sprockets():
    # By hand: 321 / 310 - 1 = 3.548 %; with 15/43 in place of 15/42 times 42 / 43: 1.140 %.
    assert gearing_change_percent(310, 321) == pytest.approx(3.548, abs=5e-4)
    assert gearing_change_percent(310, 321, Sprockets(15, 42), Sprockets(15, 43)) == pytest.approx(
        1.140, abs=5e-4
    )


def test_two_teeth_on_the_rear_take_back_five_percent_of_radius():
    # By hand: 40 to 42 teeth is exactly 5 %.
    best, *_ = nearest_sprockets(Sprockets(15, 40), 300.0, 315.0)

    assert best.sprockets == Sprockets(15, 42)
    assert best.left_over_percent == pytest.approx(0.0, abs=1e-12)
    assert best.teeth_changed == 2


def test_a_change_smaller_than_half_a_tooth_leaves_the_rear_sprocket_alone():
    best, *_ = nearest_sprockets(Sprockets(15, 42), 310.0, 311.0, front_span=0)

    assert best.sprockets == Sprockets(15, 42)
    assert best.left_over_percent == pytest.approx(100 / 310)


def test_both_sprockets_together_make_steps_finer_than_a_tooth():
    # By hand: 16/45 in place of 15/42 is 1.00446 times the reduction, 311 / 310 over that -0.123 %.
    best, *_ = nearest_sprockets(Sprockets(15, 42), 310.0, 311.0)

    assert best.sprockets == Sprockets(16, 45)
    assert best.left_over_percent == pytest.approx(-0.123, abs=5e-4)


def test_what_cannot_be_taken_back_is_left_over():
    # By hand: only the rear may change, by one tooth: 1.10 x 42 / 43 - 1 = 7.442 %.
    best, second = nearest_sprockets(Sprockets(15, 42), 300.0, 330.0, front_span=0, rear_span=1, choices=2)

    assert best.sprockets == Sprockets(15, 43)
    assert best.left_over_percent == pytest.approx(7.442, abs=5e-4)
    assert second.sprockets == Sprockets(15, 42)


def test_of_two_pairs_that_gear_alike_the_one_with_fewer_teeth_changed_comes_first():
    # By hand: 14/42, 15/45 and 16/48 are all 3.
    found = nearest_sprockets(Sprockets(15, 45), 310.0, 310.0, front_span=2, rear_span=6, choices=5)

    alike = [
        (choice.sprockets, choice.teeth_changed) for choice in found if abs(choice.left_over_percent) < 1e-9
    ]
    assert alike[0] == (Sprockets(15, 45), 0)
    assert [teeth for _, teeth in alike] == [0, 4, 4, 8, 8]


@given(PAIRS, RADII, st.floats(0.9, 1.1), st.integers(0, 2), st.integers(0, 4))
def test_nothing_within_the_span_does_better_than_the_first_choice(present, radius_mm, growth, fronts, rears):
    best, *_ = nearest_sprockets(
        present, radius_mm, growth * radius_mm, front_span=fronts, rear_span=rears, choices=1
    )

    every = [
        abs(growth * present.rear * front / (present.front * rear) - 1)
        for front in range(present.front - fronts, present.front + fronts + 1)
        for rear in range(present.rear - rears, present.rear + rears + 1)
    ]
    assert abs(best.left_over_percent) / 100 == pytest.approx(min(every), abs=1e-9)


def test_road_speed_is_distance_per_turn_times_turns():
    # By hand: a roll-out of 2 m, 1000 turns of the wheel in a minute: 2000 m / min = 120 km/h.
    assert road_speed_kmh([6000, 0], 1000 / np.pi, 6) == pytest.approx([120.0, 0.0])


@given(st.floats(1000, 16000), RADII, st.floats(3, 15), PAIRS, PAIRS)
def test_gearing_is_the_change_of_road_speed_at_one_engine_speed(rpm, radius_mm, rest, before, after):
    slow = road_speed_kmh(rpm, radius_mm, rest * before.reduction)
    fast = road_speed_kmh(rpm, radius_mm + 5, rest * after.reduction)

    change = gearing_change_percent(radius_mm, radius_mm + 5, before, after)

    assert change == pytest.approx(100 * (fast / slow - 1), abs=1e-9)


def test_nan_stays_where_it_was():
    assert np.isnan(rolling_radius_mm([300, np.nan], 10)).tolist() == [False, True]
    assert np.isnan(gearing_change_percent([310, np.nan], 315)).tolist() == [False, True]
    assert np.isnan(radius_from_rollout_mm([1900, np.nan])).tolist() == [False, True]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: rolling_radius_mm(0, 0), "free_radius_mm must be above 0, not 0"),
        (lambda: rolling_radius_mm(300, -1), "deflection_mm must be at least 0, not -1"),
        (lambda: rolling_radius_mm(300, 300), "free_radius_mm less deflection_mm must be above 0, not 0"),
        (lambda: radius_from_rollout_mm(-5), "rollout_mm must be above 0, not -5"),
        (lambda: ratio_change(296, 310, 296, 0), "rear_after_mm must be above 0, not 0"),
        (lambda: ratio_change(1, 1, 1, 1, relearn_percent=0), "relearn_percent must be above 0, not 0"),
        (lambda: gearing_change_percent(310, 315, Sprockets(15, 42)), "given both or not at all"),
        (lambda: Sprockets(5, 42), "front must be at least 8, not 5"),
        (lambda: Sprockets(15, 420), "rear must be at most 90, not 420"),
        (lambda: nearest_sprockets(Sprockets(15, 42), 310, np.nan), "must be numbers, not nan"),
        (
            lambda: nearest_sprockets(Sprockets(15, 42), 310, 315, front_span=-1),
            "front_span must be at least 0, not -1",
        ),
        (
            lambda: nearest_sprockets(Sprockets(15, 42), 310, 315, choices=0),
            "choices must be at least 1, not 0",
        ),
        (lambda: road_speed_kmh(-1, 310, 6), "engine_rpm must be at least 0, not -1"),
        (lambda: road_speed_kmh(6000, 310, 0), "total_reduction must be above 0, not 0"),
    ],
)
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
