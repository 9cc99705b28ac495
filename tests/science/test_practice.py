"""Common practice answers for every kind of tire and never contradicts itself."""

import itertools
import math

import pytest

from fleet.science.practice import (
    AXLES,
    CARCASSES,
    CATEGORIES,
    REFERENCE_AIR_C,
    RISE_SHARES,
    WEAR_SHARES,
    practice,
)
from fleet.science.thermal import COOLING_MIN, ON_TRACK_MIN, relax_c

EVERY_KIND = list(itertools.product(CATEGORIES, CARCASSES, AXLES))


@pytest.mark.parametrize(("category", "carcass", "axle"), EVERY_KIND)
def test_the_target_lies_inside_the_usable_range_with_room_on_both_sides(category, carcass, axle):
    known = practice(category, carcass, axle)

    assert known.lower_kpa + 30 < known.hot_target_kpa < known.upper_kpa - 15


@pytest.mark.parametrize(("category", "carcass", "axle"), EVERY_KIND)
def test_a_heat_cycle_needs_a_swing_of_at_least_eight_degrees(category, carcass, axle):
    known = practice(category, carcass, axle)

    assert known.working_c - known.cooled_c >= 8


@pytest.mark.parametrize(("category", "carcass", "axle"), EVERY_KIND)
def test_the_life_follows_from_depth_limit_and_rate(category, carcass, axle):
    known = practice(category, carcass, axle)

    worn_mm = known.life_km / 1000 * known.wear_median_mm_per_1000km
    assert known.new_depth_mm - worn_mm == pytest.approx(known.wear_limit_mm)
    assert 300 < known.life_km < 4000


@pytest.mark.parametrize("category", CATEGORIES)
def test_a_rear_tire_wears_faster_and_runs_hotter_than_a_front(category):
    front, rear = (practice(category, "medium", axle) for axle in AXLES)

    assert rear.wear_median_mm_per_1000km > front.wear_median_mm_per_1000km
    assert rear.settled_rise_c > front.settled_rise_c


@pytest.mark.parametrize("shares", [RISE_SHARES, WEAR_SHARES])
def test_the_shares_of_a_spread_restore_the_whole(shares):
    assert math.hypot(*shares.values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("touring", "soft", "front"), "category must be one of road_sport, .*; got 'touring'"),
        (("slick", "floppy", "front"), "carcass must be one of soft, medium, stiff; got 'floppy'"),
        (("slick", "soft", "side"), "axle must be one of front, rear; got 'side'"),
    ],
)
def test_an_unknown_word_is_refused_with_the_words_that_would_be_right(words, sentence):
    with pytest.raises(ValueError, match=sentence):
        practice(*words)


@pytest.mark.parametrize(("category", "carcass", "axle"), EVERY_KIND)
def test_a_quarter_of_an_hour_on_track_heats_a_tire_through_and_an_hour_cools_it(category, carcass, axle):
    known = practice(category, carcass, axle)
    air_c = REFERENCE_AIR_C

    hot_c = float(relax_c(air_c, air_c + known.settled_rise_c, 15.0, ON_TRACK_MIN))

    assert hot_c > known.working_c
    assert float(relax_c(hot_c, air_c, 60.0, COOLING_MIN)) < known.cooled_c
