"""The main job from the command line: guidance and bulletins."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, enter, record_conditions


@pytest.fixture
def today(event, layout, group, bike, fitted):
    """A day under way at the very moment, with weather and Robin's entry."""
    at = timezone.now()
    day = add_day(by=SERVICE, event=event, date=at.date(), layout=layout)
    enter(by=SERVICE, day=day, bike=bike, group=group, number="27")
    record_conditions(
        by=SERVICE,
        at=at,
        day=day,
        holds_at=at - timedelta(minutes=1),
        standing="observed",
        source="thermometer",
        air_c=21.0,
    )
    return day


def run(*args, **options):
    out = StringIO()
    call_command(*args, stdout=out, **options)
    return out.getvalue()


def test_guidance_prints_a_table_for_people(today):
    text = run("guidance", "june-friday", str(today.date))

    assert "Mirrin Lowmoor TD" in text
    assert "psi" in text


def test_guidance_names_si_units_in_the_keys_for_programs(today, rider):
    data = json.loads(run("guidance", "june-friday", str(today.date), "--riders", "--json"))

    assert {line["rider"] for line in data["lines"]} == {rider.code}
    assert all(line["low_kpa"] < line["start_kpa"] < line["high_kpa"] for line in data["lines"])
    assert data["track_surface_standing"] == "estimated"


def test_a_bulletin_is_issued_by_a_named_director(today, director):
    text = run("bulletin", "june-friday", str(today.date), "--issue", "--by", director.email)

    assert "Bulletin 1" in text
    assert json.loads(run("bulletin", "june-friday", str(today.date), "--json"))["number"] == 1


def test_nobody_issues_nothing(today, crew):
    with pytest.raises(CommandError, match="issued by a person"):
        run("bulletin", "june-friday", str(today.date), "--issue")
    with pytest.raises(CommandError, match="role"):
        run("bulletin", "june-friday", str(today.date), "--issue", "--by", crew.email)
    with pytest.raises(CommandError, match="No bulletin is in force"):
        run("bulletin", "june-friday", str(today.date))


@pytest.mark.parametrize(
    ("code", "date", "sentence"),
    [
        ("june-friday", "12.6.2026", "write it as 2026-06-12"),
        ("june-friday", "2001-01-01", "it has"),
        ("nowhere", "2026-06-12", "No event has the code nowhere"),
    ],
)
def test_an_unknown_day_is_refused_with_what_there_is(today, code, date, sentence):
    with pytest.raises(CommandError, match=sentence):
        run("guidance", code, date)


def test_a_day_without_weather_says_what_to_do(day, entry, fitted):
    with pytest.raises(CommandError, match="paste a METAR"):
        run("guidance", "june-friday", str(day.date))
