"""What speaks against putting a tire on an axle: said in words, and left to a person."""

from datetime import date

import pytest

from fleet.catalogue.models import TireLine, TireSpec
from fleet.garage.models import Bike
from fleet.life.models import Assessment
from fleet.life.suitability import Axle, rims_of, speaks_against

TODAY = date(2026, 6, 12)
MADE = date(2026, 2, 22)
LOWMOOR = TireLine(maker="Mirrin", name="Lowmoor TD")
ALDER = TireLine(maker="Corvane", name="Alder TD")


def spec(size, line=LOWMOOR, axle="rear"):
    return TireSpec(line=line, axle=axle, size=size)


def said(size, *, old=None, other=None, rim_in=6.0, made_on=MADE, line=LOWMOOR, **more):
    axle = Axle(Bike(rear_rim_in=rim_in), "rear", spec(old) if old else None, other)
    return speaks_against(spec(size, line), axle, on=TODAY, made_on=made_on, **more)


def codes(*args, **given):
    return [one.code for one in said(*args, **given)]


def test_the_same_again_on_its_rim_has_nothing_against_it():
    assert codes("190/55 ZR17 M/C (75W)", old="190/55 ZR17 M/C (75W)") == []


def test_an_unusual_size_on_a_rim_names_the_rims_it_goes_on():
    (found,) = said("180/55 ZR17", rim_in=5.0)

    assert found.code == "rim"
    assert "unusual size on a 5 inch rim; by common practice it goes on 5.5 to 6 inches" in found.sentence
    assert "maker's list" in found.sentence


def test_a_rim_nobody_wrote_down_and_a_size_practice_has_no_word_for_are_not_guessed():
    assert codes("180/55 ZR17", rim_in=None) == []
    assert codes("330/30 ZR17") == []
    assert rims_of(spec("3.50-18")) is None


def test_another_size_than_on_it_now_is_said():
    assert codes("200/55 ZR17", old="190/55 ZR17") == ["size"]
    assert codes("190/50 ZR17", old="190/55 ZR17") == ["size"]


def test_a_tire_for_another_diameter_is_said_before_anything_about_its_width():
    found = said("190/55 ZR17", old="180/60 R16")

    assert [one.code for one in found] == ["diameter"]
    assert "does not seat" in found[0].sentence


def test_less_load_or_speed_than_now_is_said_with_both_figures():
    # Load index 73 is 365 kg, 75 is 387 kg; H is 210 km/h, W 270 km/h (as fleet/science/tire_size.py, its sources).
    found = said("190/55 R17 M/C 73H", old="190/55 R17 M/C 75W")

    assert [one.code for one in found] == ["load", "speed"]
    assert "365 kg, the one on it now 387 kg" in found[0].sentence
    assert "210 km/h, that of the one on it now for 270 km/h" in found[1].sentence


def test_a_line_other_than_at_the_other_end_is_said_with_both_names():
    front = spec("120/70 ZR17", ALDER, "front")

    (found,) = said("190/55 ZR17", other=front)

    assert found.code == "line"
    assert "front tire is Corvane Alder TD, this one Mirrin Lowmoor TD" in found.sentence
    assert codes("190/55 ZR17", other=spec("120/70 ZR17", LOWMOOR, "front")) == []


@pytest.mark.parametrize(
    ("made_on", "was_used", "expected"),
    [
        # Advice of a tire trade body of June 2001: not into service after six years, replaced after ten.
        (date(2020, 6, 14), False, []),
        (date(2020, 6, 7), False, ["age"]),
        (date(2020, 6, 7), True, []),
        (date(2016, 6, 5), True, ["age"]),
        (None, False, ["age_unknown"]),
        # A maker who counts weeks by ISO 8601 may be a week ahead of the regulation.
        (date(2026, 6, 14), False, []),
    ],
)
def test_age_is_weighed_by_the_guideline_for_new_and_for_used_tires(made_on, was_used, expected):
    assert codes("190/55 ZR17", made_on=made_on, was_used=was_used) == expected


def test_a_tire_that_stands_down_comes_first():
    worn = Assessment(state="stand down", binding_limit="legal tread")

    found = said("180/55 ZR17", rim_in=5.0, assessment=worn, was_used=True)

    assert [one.code for one in found] == ["worn", "rim"]
    assert "reached a limit (legal tread)" in found[0].sentence
    assert codes("190/55 ZR17", assessment=Assessment(state="last day", binding_limit="tread")) == []
