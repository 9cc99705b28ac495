"""What pages answer to entries that a device kept and sends: one way for every form, and nothing for anybody else."""

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.inventory.models import Fitting
from fleet.pages.outbox import made_at
from fleet.running.models import Stint


@pytest.fixture
def send(as_):
    """Send an entry as the outbox of somebody's device does."""

    def do(client, address, fields, *, person, how="waiting", **headers):
        return client.post(
            address, fields, headers={"Outbox": how, "Outbox-Person": str(person.pk), **headers}
        )

    return do


@pytest.fixture
def stint_form(entry, slot, local, fitted):
    """What the form of a stint says, under a key of its own."""
    return {
        "laps": "6",
        "minutes_since_in": "0",
        "place": f"day:{entry.day_id}",
        "started_at": (local - timedelta(minutes=30)).isoformat(timespec="minutes"),
        "ended_at": (local - timedelta(minutes=10)).isoformat(timespec="minutes"),
        "key": str(uuid.uuid4()),
    }


def test_an_entry_is_answered_with_where_it_stands_and_what_the_page_would_have_said(
    as_, send, rider_person, wheel_pair, stint_form
):
    client = as_(rider_person)

    answer = send(client, reverse("stint", args=[wheel_pair.pk]), stint_form, person=rider_person)

    assert answer.status_code == 200
    assert answer.json()["stored"] == reverse("after-stint", args=[stint_form["key"]])
    assert answer.json()["said"][0].startswith("Stint stored")
    assert "Stint stored" not in client.get(reverse("garage")).content.decode()


def test_somebody_who_looks_is_told_by_the_next_page(as_, send, rider_person, wheel_pair, stint_form):
    client = as_(rider_person)

    address = reverse("stint", args=[wheel_pair.pk])
    answer = send(client, address, stint_form, person=rider_person, how="shown")

    assert answer.json()["said"] == []
    assert "Stint stored" in client.get(reverse("garage")).content.decode()


def test_an_entry_sent_again_because_its_answer_was_lost_is_stored_once(
    as_, send, rider_person, wheel_pair, stint_form
):
    client, address = as_(rider_person), reverse("stint", args=[wheel_pair.pk])

    answers = [send(client, address, stint_form, person=rider_person) for _ in range(3)]

    stands = reverse("after-stint", args=[stint_form["key"]])
    assert [answer.json()["stored"] for answer in answers] == [stands] * 3
    assert Stint.objects.count() == 1


def test_a_refused_entry_is_told_the_sentences_of_the_page_and_their_fields(
    as_, send, rider_person, wheel_pair, stint_form
):
    wrong = stint_form | {"laps": "4000", "started_at": "some day"}

    answer = send(as_(rider_person), reverse("stint", args=[wheel_pair.pk]), wrong, person=rider_person)

    assert answer.status_code == 422
    refused = {one["field"]: one["message"] for one in answer.json()["refused"]}
    assert refused["id_laps"] == "4000 laps is not plausible: give 1 to 400 laps."
    assert "“some day” is no date and time" in refused["id_started_at"]


def test_a_page_that_is_not_there_for_somebody_refuses_in_its_own_words(
    as_, send, rider_person, rider, stint_form
):
    answer = send(as_(rider_person), reverse("stint", args=[uuid.uuid4()]), stint_form, person=rider_person)

    assert answer.status_code == 404
    assert answer.json()["refused"][0]["message"].startswith("There are no such wheels in your garage")


def test_an_address_of_an_older_release_refuses_and_does_not_wait_for_ever(as_, send, rider_person):
    answer = send(as_(rider_person), "/garage/no-longer/", {}, person=rider_person)

    assert answer.status_code == 404
    assert answer.json()["refused"]


def test_an_entry_of_somebody_else_waits_and_is_neither_stored_nor_judged(
    as_, send, rider_person, other_rider, wheel_pair, stint_form
):
    answer = send(
        as_(rider_person), reverse("stint", args=[wheel_pair.pk]), stint_form, person=other_rider.person
    )

    assert (answer.status_code, answer.json()) == (409, {"wait": "person"})
    assert not Stint.objects.exists()


def test_an_entry_with_nobody_signed_in_waits(send, rider_person, wheel_pair, stint_form):
    answer = send(Client(), reverse("stint", args=[wheel_pair.pk]), stint_form, person=rider_person)

    assert (answer.status_code, answer.json()) == (401, {"wait": "sign-in"})
    assert not Stint.objects.exists()


def test_an_entry_waits_for_the_second_factor_too(as_, send, settings, fitter, wheel_pair, stint_form, tarn):
    settings.STAFF_SECOND_FACTOR = True

    answer = send(as_(fitter), reverse("take-in", args=[wheel_pair.pk]), {"wheels": "rear"}, person=fitter)

    assert answer.json() == {"wait": "sign-in"}


def test_a_stale_token_asks_for_a_fresh_one(rider_person, send, wheel_pair, stint_form):
    client = Client(enforce_csrf_checks=True)
    client.force_login(rider_person)
    address = reverse("stint", args=[wheel_pair.pk])

    stale = send(client, address, stint_form, person=rider_person, **{"X-CSRFToken": "x" * 32})
    fresh = client.get(reverse("outbox-token")).json()
    stored = send(client, address, stint_form, person=rider_person, **{"X-CSRFToken": fresh["token"]})

    assert stale.json() == {"wait": "token"}
    assert fresh["person"] == str(rider_person.pk)
    assert "stored" in stored.json()


def test_nobody_is_told_to_be_nobody(db):
    assert Client().get(reverse("outbox-token")).json()["person"] is None


def test_every_page_says_whom_it_was_made_for(as_, rider_person, rider):
    assert as_(rider_person).get(reverse("garage"))["Outbox-Person"] == str(rider_person.pk)
    assert as_(rider_person).get("/nowhere/")["Outbox-Person"] == str(rider_person.pk)
    assert Client().get(reverse("sign-in"))["Outbox-Person"] == "none"


def test_a_copy_made_in_the_background_leaves_what_is_said_once_to_the_page_somebody_sees(
    as_, rider_person, wheel_pair, stint_form
):
    client = as_(rider_person)
    client.post(reverse("stint", args=[wheel_pair.pk]), stint_form)

    copy = client.get(reverse("garage"), headers={"Outbox-Copy": "1"}).content.decode()
    page = client.get(reverse("garage")).content.decode()

    assert "Stint stored" not in copy
    assert "Stint stored" in page


def test_the_worker_is_another_one_for_every_release_and_asked_for_each_time(client):
    worker = client.get(reverse("worker"))

    assert worker["Cache-Control"] == "no-cache"
    assert worker["Content-Type"].startswith("text/javascript")
    said = worker.content.decode()
    assert "/static/pages/outbox/worker.js?" in said
    for name in ("ground.css", "steppers.js", "latin-400.woff2"):
        assert name in said


def test_a_device_keeps_the_pages_its_person_works_with(
    as_, rider_person, wheel_pair, fitter, inspector, tester, day
):
    def kept(person):
        return as_(person).get(reverse("keep")).json()["addresses"]

    assert kept(rider_person) == ["/outbox/", "/garage/", reverse("stint", args=[wheel_pair.pk])]
    assert kept(fitter)[:2] == ["/outbox/", "/trailer/"]
    assert kept(inspector) == [
        "/outbox/",
        "/desk/",
        reverse("gate", args=[day.pk]),
        reverse("gate-list", args=[day.pk]),
    ]
    assert kept(tester)[0] == "/outbox/"
    assert not Fitting.objects.exists()


@pytest.mark.parametrize(
    ("said", "counts"),
    [
        (timedelta(minutes=40), True),
        (timedelta(days=40), False),
        (timedelta(minutes=-40), False),
    ],
)
def test_an_entry_counts_as_of_when_it_was_made_within_reason(rf, said, counts):
    now = timezone.now()
    request = rf.post("/", headers={"Outbox": "waiting", "Outbox-Made": (now - said).isoformat()})

    assert (made_at(request) == now - said) is counts
