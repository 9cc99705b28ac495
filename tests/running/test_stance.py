"""What other tires do to the bike, from what was measured at the trailer."""

import math

import pytest

from fleet.catalogue.models import TireSpec
from fleet.garage.models import Bike
from fleet.running.stance import Ends, design_radius_mm, stance_after

FRONT = TireSpec(axle="front", size="120/70 ZR17")
REAR_180 = TireSpec(axle="rear", size="180/55 ZR17")
REAR_190 = TireSpec(axle="rear", size="190/55 ZR17")
BIKE = Bike(wheelbase_mm=1405.0, rake_deg=24.0, fork_offset_mm=30.0)


def ends(rear=None, **measured):
    return {"front": Ends(None, FRONT), "rear": Ends(REAR_180, rear or REAR_190, **measured)}


def test_a_gap_smaller_by_five_millimeters_is_a_radius_larger_by_five():
    found = stance_after(BIKE, ends(gap_mm=(18.0, 13.0)))

    assert found.changes["rear"].change_mm == pytest.approx(5.0)
    assert found.changes["rear"].rests_on == "gap"


def test_one_turn_covers_the_circumference_so_a_radius_is_that_over_two_pi():
    found = stance_after(BIKE, ends(roll_out_mm=(1950.0, 1950.0 + 2 * math.pi * 4)))

    assert found.changes["rear"].change_mm == pytest.approx(4.0)


def test_sizes_stand_in_where_nothing_was_measured_and_are_far_less_sure():
    # UN Regulation 75: D = d + 2 H; 180/55 is 630 mm and 190/55 is 641 mm across.
    by_size = stance_after(BIKE, ends()).changes["rear"]
    by_gap = stance_after(BIKE, ends(gap_mm=(18.0, 12.5))).changes["rear"]

    assert by_size.change_mm == pytest.approx(5.5)
    assert by_size.rests_on == "the sizes alone"
    assert by_size.sd_mm > 4 * by_gap.sd_mm


def test_rake_and_trail_follow_the_geometry_of_the_textbook():
    # Cossalter, Motorcycle Dynamics (2006), chapter 1: trail = (R sin rake - offset) / cos rake; the frame turns about the
    # line through its axles by the difference of the heights over the wheelbase, nearly.
    found = stance_after(BIKE, ends(gap_mm=(18.0, 12.5)))

    rake, trail, wheelbase = found.moved
    turned = math.degrees(5.5 / 1405.0)
    assert rake.after - rake.before == pytest.approx(-turned, rel=0.01)
    radius = 600.0 / 2
    for row, at in ((trail.before, 24.0), (trail.after, rake.after)):
        expected = (radius * math.sin(math.radians(at)) - 30.0) / math.cos(math.radians(at))
        assert row == pytest.approx(expected, abs=0.01)
    assert wheelbase.after == pytest.approx(1405.0, abs=0.2)
    assert 0 < rake.sd < turned / 2


def test_gearing_goes_with_the_rear_radius_alone():
    found = stance_after(BIKE, ends(gap_mm=(18.0, 12.5)))

    assert found.gearing_percent == pytest.approx(100 * 5.5 / 315.0)
    assert found.ratio_percent == pytest.approx(100 * (315.0 / 320.5 - 1))
    assert found.may_need_relearning


def test_without_chassis_data_the_rest_is_told_and_what_is_missing_named():
    found = stance_after(Bike(rake_deg=24.0), ends(gap_mm=(18.0, 12.5)))

    assert found.missing == ["the wheelbase", "the fork offset"]
    assert found.moved == []
    assert found.gearing_percent == pytest.approx(1.746, abs=0.001)


def test_measurements_that_contradict_each_other_are_marked():
    agreeing = stance_after(BIKE, ends(gap_mm=(18.0, 13.0), roll_out_mm=(1950.0, 1950.0 + 2 * math.pi * 5)))
    opposed = stance_after(BIKE, ends(gap_mm=(18.0, 13.0), roll_out_mm=(1980.0, 1950.0)))

    assert not agreeing.changes["rear"].is_contradicted
    assert agreeing.changes["rear"].rests_on == "roll-out and gap"
    assert opposed.changes["rear"].is_contradicted


def test_half_a_measurement_says_nothing_and_an_unchanged_bike_has_nothing_to_tell():
    half = stance_after(BIKE, ends(gap_mm=(18.0, None)))
    same = stance_after(BIKE, {"front": Ends(None, FRONT), "rear": Ends(None, REAR_180)})

    assert half.changes["rear"].rests_on == "the sizes alone"
    assert same.changes == {}
    assert same.moved == []


def test_a_size_that_gives_no_radius_is_not_guessed():
    inch = TireSpec(axle="rear", size="3.50-18")

    assert design_radius_mm(inch) is None
    assert stance_after(BIKE, ends(rear=inch)).changes == {}
    assert stance_after(BIKE, ends(rear=inch, gap_mm=(18.0, 12.5))).changes[
        "rear"
    ].change_mm == pytest.approx(5.5)
