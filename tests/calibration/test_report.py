"""The committed calibration page: it says what its numbers say, and its numbers keep what was promised.

Coverage and scores as in Gneiting, Balabdaoui and Raftery (2007), Probabilistic Forecasts, Calibration and Sharpness,
Journal of the Royal Statistical Society B 69, section 2; the goals themselves are the project's own.
"""

import json

import pytest
from django.core.management import CommandError, call_command

from fleet.calibration.page import REPORT, page, write
from fleet.calibration.pictures import PICTURES

NUMBERS = json.loads((REPORT / "numbers.json").read_text())
HEAT, WEAR = NUMBERS["heat"], NUMBERS["wear"]


def test_the_page_says_what_its_numbers_say():
    assert (REPORT / "README.md").read_text() == page(NUMBERS)


@pytest.mark.parametrize("name", PICTURES)
def test_every_figure_is_there_and_on_the_page(name):
    assert (REPORT / f"{name}.svg").read_text().startswith("<?xml")
    assert f"({name}.svg)" in page(NUMBERS)


@pytest.mark.parametrize("pressure", ["hot", "start"])
@pytest.mark.parametrize("part", ["all", "enough_readings"])
def test_pressure_intervals_cover_within_three_points(pressure, part):
    assert HEAT[part][f"{pressure}_covered"] == pytest.approx([0.8, 0.95], abs=0.03)


def test_intervals_of_distance_and_days_cover_within_three_points():
    assert WEAR["all"]["km_covered"] == pytest.approx([0.8, 0.95], abs=0.03)
    assert WEAR["all"]["days_covered"] == pytest.approx(0.8, abs=0.03)


def test_guidance_meets_the_target_where_habit_and_rule_of_thumb_do_not():
    enough = HEAT["enough_readings"]

    assert enough["within_psi"] >= 0.9
    assert enough["within_psi_as_always"] <= 0.65
    assert enough["within_psi_by_rule"] <= 0.65


def test_the_chance_to_last_is_calibrated_in_tenths_and_errs_toward_caution():
    for tenth in WEAR["chance"]:
        assert tenth["times"] > 100
        assert tenth["said"] - 0.03 <= tenth["did"] <= tenth["said"] + 0.1


def test_wear_that_slows_down_is_never_told_too_long_a_life():
    assert NUMBERS["wear_by_bend"]["0.3"]["half_worn_error_share"] < 0
    assert NUMBERS["wear_by_bend"]["0.15"]["half_worn_error_share"] < 0


def test_the_command_writes_page_numbers_and_figures(tmp_path):
    call_command("calibrate", seasons=1, into=tmp_path, verbosity=0)

    numbers = json.loads((tmp_path / "numbers.json").read_text())
    assert (tmp_path / "README.md").read_text() == page(numbers)
    assert {file.stem for file in tmp_path.glob("*.svg")} == set(PICTURES)


def test_the_same_numbers_give_the_same_files_again(tmp_path):
    for folder in ("once", "again"):
        write(NUMBERS, tmp_path / folder)

    for name in PICTURES:
        assert (tmp_path / "once" / f"{name}.svg").read_bytes() == (
            tmp_path / "again" / f"{name}.svg"
        ).read_bytes()


def test_less_than_one_season_is_refused():
    with pytest.raises(CommandError, match="The number of seasons must be at least 1"):
        call_command("calibrate", seasons=0)
