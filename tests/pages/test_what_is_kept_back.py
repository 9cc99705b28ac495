"""What pages keep back: tires after an entry's time, a tire's story from the crew, and copies in caches."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, enter
from fleet.inventory.actions import place_hold
from fleet.life.assessments import assess
from fleet.running.actions import record_tread


@pytest.fixture
def long_ago(event, layout, bike, group, day):
    """A day forty days before today, which Robin entered as number 31."""
    past = add_day(by=SERVICE, event=event, date=day.date - timedelta(days=40), layout=layout)
    enter(by=SERVICE, day=past, bike=bike, group=group, number="31")
    return past


@pytest.fixture
def held(assessed, tarn, now):
    """Robin's rear tire with a hold, so that any list of tires to look at shows it."""
    tire = assessed["rear"].tire
    place_hold(by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="damage", placed_at=now)
    return tire


def test_the_desk_of_a_day_long_over_says_nothing_about_its_entrants_tires(as_, crew, long_ago, held):
    page = as_(crew).get(reverse("day", args=[long_ago.pk])).content.decode()

    assert "No entrant rides on a tire that is near its end" in page
    assert "Robin Vale" not in page


def test_the_gate_of_a_day_long_over_shows_the_entry_and_no_tire(as_, inspector, long_ago, held):
    page = as_(inspector).get(reverse("gate", args=[long_ago.pk]), {"number": "31"}).content.decode()

    assert "Robin Vale" in page
    assert held.label_code not in page


def test_the_gate_tells_tread_depths_and_age_to_tech_inspection_only(
    as_, crew, inspector, rider_person, day, entry, fitted, now
):
    record_tread(by=rider_person, at=now, tire=fitted["rear"].tire, zone="C", taken_at=now, depth_mm=4.4)
    assess(None, at=now)

    pages = [
        as_(person).get(reverse("gate", args=[day.pk]), {"number": "27"}).content.decode()
        for person in (crew, inspector)
    ]

    assert ["last depth" in page for page in pages] == [False, True]
    assert [bool(re.search(r"months? old", page)) for page in pages] == [False, True]


def test_a_tires_story_is_for_its_rider_the_serving_vendor_and_tech_inspection(
    request, as_, assessed, entry, stranger
):
    address = reverse("tire", args=[assessed["rear"].tire.pk])

    answers = {
        who: as_(request.getfixturevalue(who)).get(address).status_code
        for who in ("rider_person", "fitter", "inspector", "crew", "director", "tester", "stranger")
    }

    assert answers == {
        "rider_person": 200,
        "fitter": 200,
        "inspector": 200,
        "crew": 404,
        "director": 404,
        "tester": 404,
        "stranger": 404,
    }


@pytest.mark.parametrize("address", ["/garage/", "/units/", "/api/v1/me", "/api/v1/tires", "/nowhere/"])
def test_what_a_signed_in_person_reads_is_kept_in_no_cache(as_, rider_person, rider, address):
    """RFC 9111, section 5.2.2.5: no-store forbids every cache to keep the answer."""
    answer = as_(rider_person).get(address)

    assert "no-store" in answer["Cache-Control"]


def test_the_bulletin_may_be_kept_by_nobodys_browser_but_not_with_a_name_on_it(as_, crew, bulletin, day):
    address = reverse("bulletin", args=[day.public_code])

    assert "Cache-Control" not in Client().get(address)
    assert "no-store" in as_(crew).get(address)["Cache-Control"]
