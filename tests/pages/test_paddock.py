"""What leaves the desk: the bulletin as text and as JSON, its history, and the list for the gate."""

import json
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.inventory.actions import place_hold
from fleet.life.models import Assessment, Flag
from fleet.pressures.actions import draft_day, issue_bulletin, withdraw_bulletin

KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8


@pytest.fixture
def second(bulletin, day, now):
    """A warmer noon, and the bulletin that followed it."""
    record_conditions(
        by=SERVICE, at=now + timedelta(seconds=1), day=day, holds_at=now, standing="observed", source="a thermometer", air_c=33.0,
        track_surface_c=55.0, altimeter_kpa=101.6,
    )  # fmt: skip
    draft_day(by=SERVICE, at=now, day=day)
    return issue_bulletin(by=SERVICE, at=now, day=day)


def test_the_text_holds_every_figure_the_cautions_and_the_digest(day, bulletin, rider, settings):
    settings.PUBLIC_ADDRESS = "https://tires.example.org"

    answer = Client().get(reverse("bulletin-text", args=[day.public_code]))

    text = answer.content.decode()
    assert answer["Content-Type"] == "text/plain; charset=utf-8"
    for line in bulletin.content["lines"]:
        assert f"Fast {line['shown_kpa'] / KPA_PER_PSI:.1f}" in text
    for caution in bulletin.content["cautions"]:
        assert caution in text
    assert " ".join(bulletin.digest[at : at + 4] for at in (0, 4, 8, 12)) in text
    assert f"https://tires.example.org/b/{day.public_code}/" in text
    assert rider.name not in text


def test_the_digest_stands_on_the_page_and_the_sheet(day, bulletin):
    page = Client().get(reverse("bulletin", args=[day.public_code])).content.decode()

    assert f"Digest of the content: {bulletin.digest[:4]} {bulletin.digest[4:8]}" in page


def test_displays_of_others_read_what_is_in_force(day, bulletin, now):
    address = reverse("bulletin-json", args=[day.public_code])

    before = Client().get(address)
    withdraw_bulletin(by=SERVICE, at=now, bulletin=bulletin, reason="wrong air")
    after = json.loads(Client().get(address).content)

    told = json.loads(before.content)
    assert before["Access-Control-Allow-Origin"] == "*"
    assert (told["in_force"], told["number"], told["digest"]) == (True, 1, bulletin.digest)
    assert told["content"] == bulletin.content
    assert (after["in_force"], after["number"], after["content"]) == (False, None, None)


@pytest.mark.parametrize("route", ["bulletin-text", "bulletin-json"])
def test_a_guessed_address_leads_nowhere(db, route):
    assert Client().get(reverse(route, args=["guessed"])).status_code == 404


def test_without_a_bulletin_the_text_says_whom_to_ask(day):
    answer = Client().get(reverse("bulletin-text", args=[day.public_code]))

    assert answer.status_code == 404
    assert "ask at the event desk" in answer.content.decode()


def test_the_last_two_bulletins_are_compared_unless_others_are_chosen(as_, crew, day, second):
    client, address = as_(crew), reverse("bulletin-history", args=[day.pk])

    usual = " ".join(client.get(address).content.decode().split())
    back = " ".join(client.get(address, {"from": "2", "to": "1"}).content.decode().split())

    assert "From 1 to 2" in usual
    assert "22 °C → <strong>33 °C</strong>" in usual
    assert "From 2 to 1" in back
    assert "Superseded" in usual


@pytest.mark.parametrize(("number", "status"), [("99", 200), ("one", 422), ("-1", 422), ("9" * 30, 422)])
def test_a_number_that_is_none_is_refused_and_an_unknown_one_compares_nothing(
    as_, crew, day, second, number, status
):
    answer = as_(crew).get(reverse("bulletin-history", args=[day.pk]), {"from": number})

    assert answer.status_code == status
    assert "Lines that differ" not in answer.content.decode()


def test_the_gate_list_shows_everybody_and_first_whom_the_day_asks_most(
    as_, crew, day, entry, assessed, tarn, now
):
    tires = {axle: fitting.tire for axle, fitting in assessed.items()}
    Assessment.objects.filter(tire=tires["rear"], is_newest=True).update(
        state="last day", binding_limit="tread", remaining_days_50=0.6, chance_next_day=0.2
    )
    client, address = as_(crew), reverse("gate-list", args=[day.pk])

    worn = client.get(address).content.decode()
    place_hold(by=SERVICE, at=now, tire=tires["front"], placed_for=tarn, reason="damage", placed_at=now)
    held = client.get(address).content.decode()

    assert worn.count("Robin Vale") == 2
    assert "tread, 0.6 days" in worn
    assert held.count("On hold") == 2


def test_an_entry_without_logged_tires_is_on_the_list(as_, crew, day, entry):
    page = as_(crew).get(reverse("gate-list", args=[day.pk])).content.decode()

    assert "1 without logged tires" in page
    assert page.count("not logged: look at the bike") == 2


def test_a_line_is_set_by_hand_and_the_public_is_told_that_it_was(as_, director, crew, day, guidance):
    line = guidance.lines.filter(entry__isnull=True, axle="rear").get()
    address = reverse("line-by-hand", args=[day.pk, line.pk])

    shown = as_(crew).get(address).content.decode()
    beyond = as_(crew).post(
        address, {"set_kpa": "60", "reason": "it felt better to one rider of the fast group"}
    )
    set_so = as_(crew).post(address, {"set_kpa": "30.5", "reason": "asked for"}, follow=True).content.decode()
    as_(director).post(reverse("issue", args=[day.pk]), {"guidance": guidance.pk})
    public = Client().get(reverse("bulletin", args=[day.public_code])).content.decode()
    board = Client().get(reverse("board", args=[day.public_code])).content.decode()

    assert "Range of the spec" in shown
    assert beyond.status_code == 422
    assert "only the event director goes beyond it" in beyond.content.decode()
    assert "Set by hand" in set_so
    assert "H: set by hand by the organiser" in public
    assert "asked for" not in public
    assert "<sup>H</sup>" in board


def test_a_line_of_a_draft_computed_anew_is_not_there(as_, crew, day, guidance):
    line = guidance.lines.filter(entry__isnull=True, axle="rear").get()
    guidance.lines.all().delete()

    assert as_(crew).get(reverse("line-by-hand", args=[day.pk, line.pk])).status_code == 404


def test_the_day_is_looked_back_on(as_, crew, inspector, day, bulletin, assessed, now):
    address = reverse("after-day", args=[day.pk])
    Flag.objects.create(tire=assessed["rear"].tire, state="stand down", binding_limit="tread", raised_at=now)

    page = as_(crew).get(address).content.decode()

    assert "tread reached" in page
    assert "27 Robin Vale" in page
    assert "2 on entered bikes, by spec" in page
    assert "Nothing to compare" in page
    assert as_(inspector).get(address).status_code == 403
