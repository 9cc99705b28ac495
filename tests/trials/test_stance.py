"""The geometry of a test equals the published formulas and the hand calculation, whatever way it was measured."""

import math
import uuid
from datetime import timedelta

import pytest

from fleet.errors import Conflict, Invalid
from fleet.garage.actions import take_back
from fleet.running.models import ContourReading, ShapeReading
from fleet.trials.actions import AxleLengths, measure, plan_test
from fleet.trials.errors import NotShared
from fleet.trials.queries import lengths_of, sets_of
from fleet.trials.shapes import outlines_of
from fleet.trials.stance import stance_of

ACROSS = tuple(float(x) for x in range(-60, 61, 10))


def arc(radius_mm):
    return tuple(math.sqrt(radius_mm**2 - x**2) - radius_mm for x in ACROSS)


def stance(test):
    sets = sets_of(test)
    return stance_of(test, sets, {side: lengths_of(one) for side, one in sets.items()})


def test_rake_and_trail_are_those_of_the_textbook_formula(measured):
    """Cossalter, Motorcycle Dynamics, chapter 1: trail = (R sin e - d) / cos e, normal trail = R sin e - d.

    Rf 300 mm is the radius of 120/70 ZR17 (UN Regulation 75: 432 + 2 x 84 mm), rear 1979 / 2 pi; by hand in the test.
    """
    found = stance(measured)
    rake = math.radians(24.0)

    assert found.before.trail_mm == pytest.approx((300.0 * math.sin(rake) - 30.0) / math.cos(rake), abs=1e-9)
    assert found.before.normal_trail_mm == pytest.approx(300.0 * math.sin(rake) - 30.0, abs=1e-9)
    assert found.before.rear_radius_mm == pytest.approx(1979.0 / (2 * math.pi))


def test_a_gap_smaller_by_five_is_a_radius_larger_by_five_and_turns_the_bike_by_hand_calculation(measured):
    """Axle line turned from asin((Rf - Rr) / L): L from the wheelbase, both ends by hand."""
    found = stance(measured)
    front, rear = 300.0, 1979.0 / (2 * math.pi)
    after = front + 5.0, 1989.0 / (2 * math.pi)
    length = math.hypot(1400.0, front - rear)
    turned = math.degrees(math.asin((after[0] - after[1]) / length) - math.asin((front - rear) / length))

    assert found.wheels["front"].change_mm == pytest.approx(5.0)
    assert found.wheels["rear"].change_mm == pytest.approx(10.0 / (2 * math.pi))
    assert found.pitch_deg == pytest.approx(turned, abs=1e-9)
    assert found.gearing_percent == pytest.approx(100 * (1989.0 / 1979.0 - 1))
    assert (found.wheels["front"].known_from, found.wheels["rear"].known_from) == ("gap", "roll-out")


def test_either_way_back_restores_the_rake_and_says_what_is_left(measured):
    found = stance(measured)
    fork, rear = found.ways

    assert found.pitch_deg > 0
    assert (fork.adjuster, rear.adjuster) == ("fork", "rear")
    assert fork.move_mm > 0
    assert rear.move_mm > 0
    # With the rake back, trail follows the front radius alone: 5 mm times the tangent of the rake.
    assert fork.trail_left_mm == pytest.approx(5.0 * math.tan(math.radians(24.0)), abs=1e-6)


def test_without_the_chassis_the_radii_still_speak(measured, bike):
    bike.rake_deg = bike.fork_offset_mm = None
    bike.save()
    measured.bike.refresh_from_db()

    found = stance(measured)

    assert found.missing == ("rake", "fork offset")
    assert found.before is None
    assert found.gearing_percent == pytest.approx(100 * (1989.0 / 1979.0 - 1))


def test_unmeasured_sets_rest_on_sizes_and_say_so(trial):
    found = stance(trial)

    assert found.is_all_nominal
    assert not found.wheels["front"].is_clear
    assert found.wheels["front"].sd_mm == pytest.approx(3.0 * math.sqrt(2))


def test_gap_and_roll_out_that_disagree_are_told(measured, tester, now):
    for side, roll_out in (("baseline", 1885.0), ("candidate", 1885.0)):
        measure(
            by=tester,
            at=now,
            test=measured,
            side=side,
            taken_at=now,
            measured={"front": AxleLengths(roll_out_mm=roll_out)},
        )

    assert stance(measured).wheels["front"].disagrees


def test_sprockets_of_the_plan_bring_the_gearing_back(measured):
    measured.gearbox_teeth, measured.wheel_teeth = 16, 43

    best = stance(measured).sprockets[0]

    assert abs(best.left_over_percent) <= abs(stance(measured).gearing_percent)


def test_outlines_of_one_arc_give_the_published_rolling_radius_at_lean(trial, tester, now):
    """Cossalter, Motorcycle Dynamics: R - t (1 - cos phi); R 315, t 95, 45 degrees: 287.18 mm. Here at 40 degrees."""
    measure(
        by=tester,
        at=now,
        test=trial,
        side="baseline",
        taken_at=now,
        measured={"rear": AxleLengths(x_mm=ACROSS, z_mm=arc(95.0))},
    )
    reading = lengths_of(sets_of(trial)["baseline"]).contours["rear"]

    found = outlines_of("rear", reading, None, radii_mm=(315.0, 315.0), mass_height_mm=600.0)
    by_lean = {cell.lean_deg: cell for cell in found.before.leans}

    # The points reach to 39.2 degrees: what lies beyond is not told.
    assert found.before.crown_radius_mm == pytest.approx(95.0, abs=0.05)
    assert by_lean[30].rolling_radius_mm == pytest.approx(
        315 - 95 * (1 - math.cos(math.radians(30))), abs=0.05
    )
    assert by_lean[30].shift_mm == pytest.approx(95 * math.radians(30), abs=0.05)
    assert by_lean[40].rolling_radius_mm is None


def test_measuring_stores_readings_of_the_tires_once(trial, tester, fitted, now):
    key = uuid.uuid4()
    for _ in range(2):
        count = measure(
            by=tester,
            at=now,
            test=trial,
            side="baseline",
            taken_at=now - timedelta(minutes=5),
            measured={"front": AxleLengths(gap_mm=12.0, ride_height_mm=500.0, x_mm=ACROSS, z_mm=arc(70.0))},
            key=key,
        )

    assert count == 3
    assert ShapeReading.objects.filter(tire=fitted["front"].tire, recorded_by=tester).count() == 2
    assert ContourReading.objects.count() == 1


def test_nothing_measured_and_no_tire_are_refused(plan, shared, tester, fitted, now):
    test = plan_test(by=tester, **plan)

    with pytest.raises(Invalid, match="Nothing was measured"):
        measure(by=tester, at=now, test=test, side="baseline", taken_at=now, measured={})
    with pytest.raises(Conflict, match="No front tire of the candidate set is fitted"):
        measure(
            by=tester,
            at=now,
            test=test,
            side="candidate",
            taken_at=now,
            measured={"front": AxleLengths(gap_mm=10.0)},
        )


@pytest.mark.parametrize(
    ("x_mm", "z_mm", "said"),
    [
        (ACROSS[:5], arc(90.0)[:5], "No outline fits"),
        (ACROSS, arc(90.0)[:-1], "13 places and 12 heights"),
        (ACROSS, tuple(-z for z in arc(90.0)), "curve the other way"),
        (tuple(10 * x for x in ACROSS), arc(90.0), "check the unit"),
    ],
)
def test_points_no_tread_has_are_refused_with_what_would_be_right(trial, tester, now, x_mm, z_mm, said):
    with pytest.raises(Invalid, match=said):
        measure(
            by=tester,
            at=now,
            test=trial,
            side="baseline",
            taken_at=now,
            measured={"rear": AxleLengths(x_mm=x_mm, z_mm=z_mm)},
        )

    assert not ContourReading.objects.exists()


def test_measuring_ends_with_the_sharing(trial, tester, shared, rider_person, now):
    take_back(by=rider_person, sharing=shared, at=now)

    with pytest.raises(NotShared, match="no longer shares"):
        measure(
            by=tester,
            at=now,
            test=trial,
            side="baseline",
            taken_at=now,
            measured={"front": AxleLengths(gap_mm=12.0)},
        )
