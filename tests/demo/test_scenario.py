"""The invented season: the same for a date, plausible in its physics, with human error and worn tires in it."""

import csv
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from fleet.demo.scenario import generate

TODAY = date(2026, 6, 12)
AT = datetime(2026, 6, 12, 15, 0, tzinfo=UTC)


def read(folder, name):
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    generate(folder, today=TODAY, at=AT, attendance=0.5)
    return folder


def test_the_same_date_gives_the_same_season(tmp_path):
    for name in ("first", "second"):
        generate(tmp_path / name, today=TODAY, at=AT, attendance=0.05)

    files = [
        {path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("first", "second")
    ]
    assert files[0] == files[1]


def test_only_the_tickets_of_the_day_and_their_wishes_depend_on_the_hour_of_loading(tmp_path):
    for name, hours in (("first", 0), ("second", 3)):
        generate(tmp_path / name, today=TODAY, at=AT + timedelta(hours=hours), attendance=0.05)

    differing = [
        path.name
        for path in (tmp_path / "first").iterdir()
        if path.read_bytes() != (tmp_path / "second" / path.name).read_bytes()
    ]
    assert sorted(differing) == ["tickets.csv", "wishes.csv"]


def test_it_holds_two_vendors_one_organiser_two_circuits_sixty_riders_and_ten_days(season):
    organisations = read(season, "organisations")
    past = [row for row in read(season, "days") if row["date"] < TODAY.isoformat()]

    assert [row["is_vendor"] for row in organisations] == ["yes", "yes", "no"]
    assert len(read(season, "tracks")) == 2
    assert len(read(season, "riders")) == 60
    assert len(past) == 10


def test_the_event_is_tomorrow_with_everybody_entered_and_weather_forecast(season):
    tomorrow = (TODAY + timedelta(days=1)).isoformat()
    entries = [row for row in read(season, "entries") if row["date"] == tomorrow]
    weather = [row for row in read(season, "conditions") if row["date"] == tomorrow]
    slots = [row for row in read(season, "slots") if row["date"] == tomorrow]

    assert len(entries) == 60
    assert {row["standing"] for row in weather} == {"forecast"}
    assert len({row["group"] for row in slots}) == 4


def test_one_rider_in_ten_has_no_account(season):
    assert sum(not row["email"] for row in read(season, "riders")) == 6


def test_nothing_happens_after_the_moment_of_loading(season):
    for name in ("stints", "pressures", "treads", "fittings", "removals", "holds", "conditions"):
        recorded = [row["recorded_at"] for row in read(season, name)]
        assert max(recorded) <= AT.isoformat().replace("+00:00", "Z")


def test_everything_says_that_it_is_invented(season):
    assert {row["contact"] for row in read(season, "organisations")} == {"invented for the demo"}
    assert all("invented for the demo" in row["published_by"] for row in read(season, "pressure_specs"))
    assert all("invented for the demo" in row["source"] for row in read(season, "conditions"))


def test_hot_pressures_rise_by_the_gas_law_not_by_a_rule_of_thumb(season):
    """Amontons's law: at constant volume absolute pressure goes with kelvin (OpenStax University Physics 2, 2.1).

    A tire set at 200 kPa gauge at 15 degrees C that comes in 20 to 60 degrees C warmer gains 21 to 63 kPa at sea level.
    """
    stints = {}
    for row in read(season, "pressures"):
        stints.setdefault((row["stint"], row["tire"]), {})[row["moment"]] = row
    first = [one for one in stints.values() if {"set", "in"} <= one.keys() and not one["set"]["tire_c"]]
    ratios = np.array(
        [(float(one["in"]["read_kpa"]) + 101.3) / (float(one["set"]["read_kpa"]) + 101.3) for one in first]
    )

    assert len(ratios) > 100
    assert 1 + 20 / 288 < np.median(ratios) < 1 + 60 / 288


def test_there_is_human_error_in_it(season):
    pressures = read(season, "pressures")
    stints = read(season, "stints")
    complete = 4 * sum(not row["voided_at"] for row in stints)

    assert 0.9 * complete < sum(not row["voided_at"] for row in pressures) < complete
    assert {"later", "in", "set"} == {row["moment"] for row in pressures}
    assert any(row["void_reason"] for row in stints)


def test_tires_are_changed_when_worn_and_a_few_are_old(season):
    removals = read(season, "removals")
    own = [row["identification"] for row in read(season, "tires")]

    assert sum(row["reason"] == "worn" for row in removals) >= 5
    assert "" in own
    assert any(code and 2000 + int(code[2:]) < TODAY.year - 5 for code in own)


def test_one_hold_stands_and_one_was_lifted(season):
    holds = read(season, "holds")

    assert [bool(row["lifted_at"]) for row in holds] == [False, True]
