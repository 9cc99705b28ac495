import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fleet.science.geometry import (
    Chassis,
    RadiusChange,
    adjusted,
    after_tires,
    combined,
    from_gap,
    from_rollout,
    from_sizes,
    normal_trail_mm,
    restore,
    trail_mm,
)

SPORT = Chassis(
    rake_deg=24.0, fork_offset_mm=30.0, wheelbase_mm=1400.0, front_radius_mm=300.0, rear_radius_mm=315.0
)
CHASSIS = st.builds(
    Chassis,
    rake_deg=st.floats(15, 40),
    fork_offset_mm=st.floats(-20, 80),
    wheelbase_mm=st.floats(1100, 1800),
    front_radius_mm=st.floats(220, 340),
    rear_radius_mm=st.floats(220, 340),
)
CHANGES_MM = st.floats(-20, 20)
ADJUSTERS = st.sampled_from(["fork", "rear"])


def points_of(chassis):
    """Rear axle, front axle and two points of the steering axis; forward and up are positive."""
    rake = np.radians(chassis.rake_deg)
    rear = np.array([0.0, chassis.rear_radius_mm])
    front = np.array([chassis.wheelbase_mm, chassis.front_radius_mm])
    foot = front - chassis.fork_offset_mm * np.array([np.cos(rake), np.sin(rake)])
    return np.array([rear, front, foot, foot + 500.0 * np.array([-np.sin(rake), np.cos(rake)])])


def turned(points, angle):
    cosine, sine = np.cos(angle), np.sin(angle)
    return points @ np.array([[cosine, sine], [-sine, cosine]])


def standing(points, front_radius_mm, rear_radius_mm):
    """Rake, trail and wheelbase of a rigid frame that is turned until both wheels touch the ground."""
    over = front_radius_mm - rear_radius_mm
    angle = brentq(lambda a: np.diff(turned(points[:2], a)[:, 1])[0] - over, -0.3, 0.3, xtol=1e-14)
    rear, front, foot, head = turned(points, angle)
    along = head - foot
    ground = rear[1] - rear_radius_mm
    axis_at_ground = foot + along * (ground - foot[1]) / along[1]
    rake_deg = np.degrees(np.arctan2(-along[0], along[1]))
    return rake_deg, axis_at_ground[0] - front[0], front[0] - rear[0]


def measured(change_mm, sd_mm):
    return RadiusChange(np.asarray(change_mm), np.asarray(sd_mm), np.asarray(1.0))


def test_the_benchmark_bicycle_has_its_printed_trail():
    # Meijaard, Papadopoulos, Ruina and Schwab (2007), Proc. R. Soc. A 463, Table 1: wheelbase 1.02 m, trail 0.08 m,
    # steer axis tilt pi/10, front wheel radius 0.35 m, rear 0.3 m. The offset is the axle's distance from that axis.
    tilt, trail, radius = np.pi / 10, 80.0, 350.0
    offset = np.dot([-trail, radius], [np.cos(tilt), np.sin(tilt)])

    benchmark = Chassis(np.degrees(tilt), offset, 1020.0, radius, 300.0)

    assert offset == pytest.approx(32.0714, abs=5e-5)
    assert trail_mm(benchmark) == pytest.approx(80.0, abs=0.05)
    assert normal_trail_mm(benchmark) == pytest.approx(76.085, abs=5e-4)


@pytest.mark.parametrize(
    ("rake_deg", "trail", "normal"),
    [(24.0, 100.730, 92.021), (23.5, 97.730, 89.625)],
)
def test_trail_is_where_the_drawn_steering_axis_meets_the_ground(rake_deg, trail, normal):
    chassis = Chassis(rake_deg, 30.0, 1400.0, 300.0, 315.0)

    drawn = standing(points_of(chassis), 300.0, 315.0)

    assert drawn == pytest.approx((rake_deg, trail_mm(chassis), 1400.0), abs=1e-9)
    # Worked from (R sin e - d) / cos e and R sin e - d.
    assert trail_mm(chassis) == pytest.approx(trail, abs=5e-4)
    assert normal_trail_mm(chassis) == pytest.approx(normal, abs=5e-4)


@pytest.mark.parametrize(
    ("front_mm", "rear_mm", "rake_deg", "trail"),
    [
        (3, 0, 0.1228, 2.083),
        (0, 3, -0.1228, -0.738),
        (5, 0, 0.2046, 3.481),
        (0, 5, -0.2046, -1.230),
        (5, 5, 0.0, 2.226),
        (-3, 5, -0.3274, -3.281),
    ],
)
def test_other_tires_turn_the_chassis_about_its_axle_line(front_mm, rear_mm, rake_deg, trail):
    # Worked from asin((Rf - Rr) / 1400) before and after. The axle line is 0.08 mm longer than the wheelbase that
    # stands for it there, which is 0.00002 degrees and 0.0002 mm of trail.
    change = after_tires(SPORT, front_mm, rear_mm)

    assert change.rake_deg == pytest.approx(rake_deg, abs=7e-5)
    assert change.trail_mm == pytest.approx(trail, abs=7e-4)
    assert (change.front_height_mm, change.rear_height_mm) == (front_mm, rear_mm)


@given(CHASSIS, CHANGES_MM, CHANGES_MM)
def test_other_tires_agree_with_a_rigid_frame_stood_on_two_wheels(chassis, front_mm, rear_mm):
    change = after_tires(chassis, front_mm, rear_mm)

    rake_deg, trail, wheelbase_mm = standing(
        points_of(chassis), chassis.front_radius_mm + front_mm, chassis.rear_radius_mm + rear_mm
    )
    assert change.chassis.rake_deg == pytest.approx(rake_deg, abs=1e-9)
    assert trail_mm(change.chassis) == pytest.approx(trail, abs=1e-7)
    assert change.chassis.wheelbase_mm == pytest.approx(wheelbase_mm, abs=1e-9)


@given(CHASSIS, CHANGES_MM, CHANGES_MM)
def test_there_and_back_is_the_start(chassis, front_mm, rear_mm):
    there = after_tires(chassis, front_mm, rear_mm)

    back = after_tires(there.chassis, -front_mm, -rear_mm)

    for name in ("rake_deg", "wheelbase_mm", "front_radius_mm", "rear_radius_mm", "fork_offset_mm"):
        assert getattr(back.chassis, name) == pytest.approx(getattr(chassis, name), abs=1e-9)
    for name in ("rake_deg", "trail_mm", "normal_trail_mm", "wheelbase_mm"):
        assert getattr(back, name) == pytest.approx(-getattr(there, name), abs=1e-9)


@given(CHASSIS, st.floats(0.1, 20))
def test_a_larger_front_tire_lifts_the_nose_and_a_larger_rear_tire_drops_it(chassis, more_mm):
    assert after_tires(chassis, more_mm, 0.0).rake_deg > 0 > after_tires(chassis, 0.0, more_mm).rake_deg


def test_springs_add_four_percent_to_the_turn_of_a_stiff_chassis():
    # Statics of the example in after_tires: 260 kg with its center over the middle of the wheelbase, 600 mm up; the load
    # that turning moves rearward extends 20 N/mm in front and compresses 25 N/mm behind.
    weight_n, p, arm_mm = 260 * 9.81, 1400.0, 600.0 - 307.5

    def excess(turn):
        moved_n = weight_n * arm_mm * np.sin(turn) / p
        return p * np.sin(turn + axle_line) - (-10.0 + moved_n / 20.0 + moved_n / 25.0)

    axle_line = np.arcsin(-15.0 / p)

    with_springs = np.degrees(brentq(excess, -0.1, 0.1, xtol=1e-12))

    assert with_springs / after_tires(SPORT, 5.0, 0.0).rake_deg == pytest.approx(1.04, abs=0.005)


@given(CHASSIS, CHANGES_MM, CHANGES_MM, ADJUSTERS)
def test_restoring_brings_the_old_rake_back(before, front_mm, rear_mm, adjuster):
    after = after_tires(before, front_mm, rear_mm).chassis

    restored = restore(before, after, adjuster)

    assert restored.left.rake_deg == pytest.approx(0.0, abs=1e-9)
    assert restored.left.chassis.rake_deg == pytest.approx(before.rake_deg, abs=1e-9)
    assert restored.adjustment_mm == restored.wanted_mm
    assert restored.left.normal_trail_mm == pytest.approx(
        front_mm * np.sin(np.radians(before.rake_deg)), abs=1e-9
    )


@given(CHASSIS, st.floats(-15, 15), st.floats(-15, 15))
def test_an_adjusted_chassis_agrees_with_a_frame_whose_axles_were_moved(chassis, fork_up_mm, rear_up_mm):
    points = points_of(chassis)
    rake = np.radians(chassis.rake_deg)
    points[[1, 2]] += fork_up_mm * np.array([-np.sin(rake), np.cos(rake)])
    points[0, 1] -= rear_up_mm

    moved = adjusted(chassis, fork_up_mm, rear_up_mm)

    drawn = standing(points, chassis.front_radius_mm, chassis.rear_radius_mm)
    assert drawn == pytest.approx((moved.rake_deg, trail_mm(moved), moved.wheelbase_mm), abs=1e-7)


@given(CHASSIS, CHANGES_MM)
def test_the_end_that_grew_can_take_its_own_growth_back(before, change_mm):
    # The fork can hide the whole of a front change from the frame, and the rear ride height that of a rear change.
    by_fork = restore(before, after_tires(before, change_mm, 0.0).chassis, "fork").left
    by_rear = restore(before, after_tires(before, 0.0, change_mm).chassis, "rear").left

    for left in (by_fork, by_rear):
        assert (left.front_height_mm, left.rear_height_mm) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert by_rear.trail_mm == pytest.approx(0.0, abs=1e-9)


def test_pushing_the_legs_up_for_a_larger_front_tire_leaves_trail_over():
    # By hand: 5 mm along an axis of 24 degrees is 5 / cos 24 = 5.473 mm; trail keeps 5 tan 24 = 2.226 mm, and the
    # axle came back by 5 tan 24 mm.
    restored = restore(SPORT, after_tires(SPORT, 5.0, 0.0).chassis, "fork")

    assert restored.wanted_mm == pytest.approx(5.473, abs=5e-4)
    assert restored.left.trail_mm == pytest.approx(2.226, abs=5e-4)
    assert restored.left.wheelbase_mm == pytest.approx(-2.226, abs=5e-4)


def test_dropping_the_legs_for_a_larger_rear_tire_leaves_the_whole_bike_higher():
    restored = restore(SPORT, after_tires(SPORT, 0.0, 5.0).chassis, "fork")

    assert restored.wanted_mm == pytest.approx(-5.473, abs=5e-4)
    assert restored.left.front_height_mm == pytest.approx(5.0, abs=1e-3)
    assert restored.left.rear_height_mm == 5.0
    assert restored.left.trail_mm == pytest.approx(0.0, abs=1e-9)


def test_travel_that_ends_early_leaves_rake_over():
    after = after_tires(SPORT, 5.0, 0.0).chassis

    restored = restore(SPORT, after, "fork", travel_mm=(-4.0, 3.0))

    assert restored.wanted_mm == pytest.approx(5.473, abs=5e-4)
    assert restored.adjustment_mm == 3.0
    assert restored.left.rake_deg == pytest.approx(adjusted(after, fork_up_mm=3.0).rake_deg - 24.0)
    # By hand: of 5 mm at the front, 3 cos 24 = 2.741 mm are taken back; 2.259 mm over 1400 mm are 0.0925 degrees.
    assert restored.left.front_height_mm == pytest.approx(2.259, abs=5e-3)
    assert restored.left.rake_deg == pytest.approx(0.0925, abs=5e-4)


def test_many_chassis_and_changes_are_computed_at_once():
    fleet = Chassis([24.0, 25.0, 24.0], 30.0, 1400.0, [300.0, 300.0, np.nan], 315.0)

    change = after_tires(fleet, [[5.0], [0.0]], 0.0)
    restored = restore(fleet, change.chassis, "rear", travel_mm=(-2.0, [10.0, 2.0, 10.0]))

    assert change.trail_mm.shape == (2, 3)
    assert change.trail_mm[0, 0] == after_tires(SPORT, 5.0, 0.0).trail_mm
    assert np.isnan(change.rake_deg).tolist() == [[False, False, True]] * 2
    assert restored.adjustment_mm[0] == pytest.approx([5.0, 2.0, np.nan], nan_ok=True, abs=1e-3)


def test_a_rollout_longer_by_two_pi_is_a_radius_larger_by_one():
    change = from_rollout(1885.0, 1885.0 + 2 * np.pi, reading_sd_mm=2.0)

    assert change.change_mm == pytest.approx(1.0)
    # Two readings of 2 mm each: 2 sqrt 2 / 2 pi.
    assert change.sd_mm == pytest.approx(0.4502, abs=5e-5)


def test_a_gap_smaller_by_three_is_a_radius_larger_by_three():
    assert from_gap(21.0, 18.0).change_mm == 3.0


def test_two_sizes_differ_by_half_their_design_diameters():
    # UN Regulation 75: 180/55-17 is 630 mm, 200/55-17 652 mm.
    assert from_sizes("180/55 ZR17", "200/55 ZR17").change_mm == 11.0
    assert from_sizes("180/55 ZR17", "180/55 ZR17").sd_mm > 3.0


def test_measurements_that_agree_share_their_weight_by_inverse_variance():
    # By hand: weights 1 and 1/4 give (2 + 0.25 * 2.5) / 1.25 = 2.1 and 1 / sqrt 1.25 = 0.8944.
    one, two = (
        RadiusChange(*map(np.asarray, (2.0, 1.0, 1.0))),
        RadiusChange(*map(np.asarray, (2.5, 2.0, 1.0))),
    )

    best = combined(one, two)

    assert best.change_mm == pytest.approx(2.1)
    assert best.sd_mm == pytest.approx(0.8944, abs=5e-5)
    assert best.stretch == 1.0


def test_measurements_that_disagree_widen_their_mean():
    # By hand: weights of 2, mean 3, 2 (9 + 9) / 1 = 36: stretched sixfold from 1 / sqrt 4.
    best = combined(from_gap(20.0, 20.0), from_gap(20.0, 14.0))

    assert best.change_mm == pytest.approx(3.0)
    assert best.stretch == pytest.approx(6.0)
    assert best.sd_mm == pytest.approx(3.0)


def test_the_weighted_mean_agrees_with_an_independent_one():
    # numpy.average for the mean; its variance 1 / sum(1 / s^2) is that of Bevington and Robinson, Data Reduction and
    # Error Analysis for the Physical Sciences, section 4.1 (from memory).
    values, sds = np.array([1.2, 0.7, 1.6]), np.array([0.5, 0.9, 1.4])

    best = combined(*(measured(value, sd) for value, sd in zip(values, sds, strict=True)))

    assert best.change_mm == pytest.approx(np.average(values, weights=sds**-2))
    assert best.sd_mm == pytest.approx(np.sum(sds**-2) ** -0.5)


def test_a_measurement_that_was_not_taken_is_passed_over():
    rollout = from_rollout([1885.0, np.nan, np.nan], 1890.0)
    gap = from_gap([20.0, 20.0, np.nan], 19.0)

    best = combined(rollout, gap)

    assert best.change_mm[1] == 1.0
    assert best.sd_mm[1] == gap.sd_mm[1]
    assert [bool(np.isnan(part[2])) for part in (best.change_mm, best.sd_mm, best.stretch)] == [True] * 3


@given(st.lists(st.tuples(st.floats(-20, 20), st.floats(0.1, 5)), min_size=1, max_size=4))
def test_the_best_lies_between_the_measurements_and_order_does_not_matter(pairs):
    changes = [measured(value, sd) for value, sd in pairs]

    best, reversed_best = combined(*changes), combined(*reversed(changes))

    assert min(v for v, _ in pairs) - 1e-9 <= best.change_mm <= max(v for v, _ in pairs) + 1e-9
    assert best.sd_mm == pytest.approx(reversed_best.sd_mm)
    assert best.stretch >= 1.0


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: Chassis(65, 30, 1400, 300, 315), "rake_deg must be at most 60, not 65"),
        (lambda: Chassis(24, 300, 1400, 300, 315), "fork_offset_mm must be at most 250, not 300"),
        (lambda: Chassis(24, 30, -1, 300, 315), "wheelbase_mm must be above 0, not -1"),
        (lambda: Chassis(24, 30, 600, 300, 315), "wheelbase_mm less both radii must be above 0, not -15"),
        (lambda: Chassis(24, 30, 1400, [300, 0], 315), "front_radius_mm must be above 0, not 0"),
        (lambda: Chassis(24, 30, 1400, 300, -5), "rear_radius_mm must be above 0, not -5"),
        (lambda: after_tires(SPORT, np.inf, 0), "front_change_mm must be finite, not inf"),
        (lambda: after_tires(SPORT, -300, 0), "front_radius_mm must be above 0, not 0"),
        (lambda: adjusted(SPORT, rear_up_mm=np.inf), "rear_up_mm must be finite, not inf"),
        (lambda: adjusted(SPORT, rear_up_mm=900), "rake_deg must be at least 0"),
        (lambda: restore(SPORT, SPORT, "shock"), "adjuster must be fork or rear, not 'shock'"),
        (
            lambda: restore(SPORT, SPORT, "fork", travel_mm=(3, -4)),
            "highest less lowest travel_mm must be at least 0, not -7",
        ),
        (lambda: from_rollout(0, 1880), "before_mm must be above 0, not 0"),
        (lambda: from_gap(20, -1), "after_mm must be at least 0, not -1"),
        (lambda: from_gap(20, 21, reading_sd_mm=0), "reading_sd_mm must be above 0, not 0"),
        (lambda: from_sizes("3.50-18", "110/80-18"), "inch or letter designation"),
        (combined, "changes must hold at least 1 measurement, not 0"),
    ],
)
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()


def test_a_measurement_of_unknown_spread_is_left_out_and_the_others_stand():
    best = combined(measured(3.0, 0.5), measured(9.0, np.nan))

    assert (best.change_mm, best.sd_mm) == (pytest.approx(3.0), pytest.approx(0.5))
