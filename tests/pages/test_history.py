"""The history on a page: who did what, for whom, before and after, in the reader's words and units."""

import re

import pytest
from django.test import Client

from fleet.accounts.actions import choose_units
from fleet.garage.actions import add_bike, correct_bike
from fleet.inventory.actions import advance_ticket, take_wheels_in
from fleet.running.actions import void_stint


def text_of(answer):
    """Return a page's words as they are read: tags gone, spaces single."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("&nbsp;", " ").split())


def test_a_bike_is_corrected_and_its_page_leads_to_what_stood_there_before(as_, rider_person, bike):
    client = as_(rider_person)
    form = {"description": "1000 sport", "rake_deg": "24,5", "front_rim_in": "3.50", "rear_rim_in": "5.5"}

    answer = client.post(f"/garage/bikes/{bike.pk}/", form, follow=True)

    assert "The bike is corrected." in text_of(answer)
    page = text_of(client.get(f"/history/?about={bike.pk}"))
    assert "History of 1000 sport" in page
    assert "Bike: corrected , 1000 sport" in page
    assert "Rake nothing → 24.5°" in page
    assert "Rear rim 6 in → 5.5 in" in page
    assert "Front rim 3.5" not in page.split("Bike: made")[0]
    assert "by you" in page


def test_a_figure_shown_rounded_and_left_alone_stays_as_it_was(as_, rider_person, bike):
    correct_bike(by=rider_person, bike=bike, rake_deg=24.4567)
    client = as_(rider_person)
    shown = client.get(f"/garage/bikes/{bike.pk}/").context["form"]
    typed = {field.name: field.value() if field.value() is not None else "" for field in shown}
    typed |= {"rake_deg": "24.46", "front_rim_in": "3.50", "rear_rim_in": "6.00"}

    answer = client.post(f"/garage/bikes/{bike.pk}/", typed, follow=True)

    bike.refresh_from_db()
    assert bike.rake_deg == 24.4567
    assert "Nothing was changed." in text_of(answer)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"description": ""}, "What it is is missing"),
        ({"rake_deg": "steep"}, "is no number"),
        ({"rake_deg": "80"}, "is not plausible"),
    ],
)
def test_a_correction_that_cannot_be_right_is_refused_at_its_field(as_, rider_person, bike, typed, sentence):
    answer = as_(rider_person).post(f"/garage/bikes/{bike.pk}/", {"description": "1000 sport"} | typed)

    assert answer.status_code == 422
    assert sentence in text_of(answer)


def test_nobody_opens_or_mends_another_riders_bike(as_, other_rider, fitter, bike):
    for person, status in ((other_rider.person, 404), (fitter, 403)):
        client = as_(person)
        address = f"/garage/bikes/{bike.pk}/"
        assert client.get(address).status_code == client.post(address, {}).status_code == status


def test_what_the_crew_did_is_told_with_name_and_organisation(as_, rider, rider_person, fitter):
    add_bike(by=fitter, rider=rider, code="b-9", description="600 sport", rake_deg=23.0)

    page = text_of(as_(rider_person).get("/history/"))

    assert "Bike: made , 600 sport" in page
    assert "by Fen Aldous, Tarn Tire Service" in page
    assert "Rake 23°" in page


def test_facts_stand_in_the_readers_units_and_a_voided_one_with_its_reason(as_, rider_person, stint, now):
    void_stint(by=rider_person, at=now, stint=stint, reason="wrong wheels")
    choose_units(
        by=rider_person, pressure_unit="bar", temperature_unit="C", depth_unit="mm", distance_unit="mi"
    )

    page = text_of(as_(rider_person).get("/history/"))

    assert "Stint: voided" in page
    assert "wrong wheels" in page
    assert "2.05 bar" in page
    assert "20 mi" in page


def test_a_page_shows_one_kind_and_leads_to_older_ones(as_, rider_person, rider):
    bikes = [
        add_bike(by=rider_person, rider=rider, code=f"b-{number}", description=f"bike {number}")
        for number in range(40)
    ]
    client = as_(rider_person)

    first = client.get("/history/?what=made")
    older = re.search(r'href="(/history/\?[^"]*after=[^"]*)"', first.content.decode())[1]
    second = client.get(older.replace("&amp;", "&"))

    shown = [one.line.row for answer in (first, second) for one in answer.context["told"]]
    assert [row for row in shown if row in {bike.pk for bike in bikes}] == [
        bike.pk for bike in reversed(bikes)
    ]
    assert len(shown) == len(set(shown))
    assert "Newest" in text_of(second)


@pytest.mark.parametrize(
    "query",
    [
        "what=edited",
        "about=1",
        "after=x",
        "after=2026-06-12~a~made",
        "after=9999-99-99T00:00:00Z~a~made",
        "after=%00",
    ],
)
def test_an_address_that_was_tampered_with_is_refused(as_, rider_person, query):
    assert as_(rider_person).get(f"/history/?{query}").status_code == 422


def test_a_manager_reads_the_organisations_own_matters_and_no_rider_by_name(
    as_, stock_manager, fitter, tarn, wheel_pair, now
):
    ticket = take_wheels_in(by=fitter, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    advance_ticket(by=fitter, ticket=ticket, state="on_machine")

    page = text_of(as_(stock_manager).get("/history/"))

    assert "Job ticket: moved on" in page
    assert "waiting → on machine" in page
    assert "by Fen Aldous, Tarn Tire Service" in page


def test_a_history_of_somebody_elses_thing_is_empty(as_, stranger, bike, rider_person):
    correct_bike(by=rider_person, bike=bike, rake_deg=24.0)

    page = text_of(as_(stranger).get(f"/history/?about={bike.pk}"))

    assert "Nothing is written down here." in page
    assert "1000 sport" not in page


def test_nobody_signed_in_reads_no_history(db):
    for address in ("/history/", "/garage/bikes/00000000-0000-4000-8000-000000000000/"):
        answer = Client().get(address)
        assert (answer.status_code, answer.url.startswith("/sign-in/")) == (302, True)
