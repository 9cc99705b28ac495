"""Adjustments, shapes, notices and reference notes through the API."""

import uuid

import pytest

from fleet.accounts.policy import SERVICE
from fleet.notices.actions import tell
from fleet.notices.models import Notice
from fleet.running.actions import record_shape

WHEN = "2026-06-12T09:00:00Z"


@pytest.fixture
def adjustment(wheel_pair):
    return {
        "wheel_pair": str(wheel_pair.pk),
        "part": "rear_preload",
        "before": 2,
        "after": 3.5,
        "unit": "turns",
        "made_at": WHEN,
        "key": str(uuid.uuid4()),
    }


@pytest.fixture
def shape(fitted):
    tire = str(fitted["rear"].tire.pk)
    return {
        "tire": tire,
        "quantity": "roll_out",
        "taken_at": WHEN,
        "length_mm": 1985,
        "key": str(uuid.uuid4()),
    }


def test_an_adjustment_is_written_once_read_by_its_rider_and_voided(
    ask, rider_person, other_rider, adjustment
):
    robin = ask(rider_person)

    made, again = (robin.post("/api/v1/adjustments", adjustment) for _ in range(2))
    address = f"/api/v1/adjustments/{made.json()['id']}"
    others = ask(other_rider.person).get(address)
    voided = robin.post(f"{address}/void", {"reason": "counted wrong"})

    assert made.status_code == again.status_code == 201
    assert made.json() == again.json()
    assert (made.json()["before"], made.json()["after"], made.json()["unit"]) == (2.0, 3.5, "turns")
    assert others.status_code == 404
    assert voided.json()["void_reason"] == "counted wrong"
    assert robin.post(f"{address}/void", {"reason": "again"}).json()["code"] == "already-voided"
    assert len(robin.get("/api/v1/adjustments?is_voided=true").json()["results"]) == 1


def test_adjustments_and_shapes_come_in_batches_too(ask, rider_person, adjustment, shape):
    for noun, item in (("adjustments", adjustment), ("shapes", shape)):
        wrong = item | {"key": str(uuid.uuid4())} | dict.fromkeys(["made_at", "taken_at"] & item.keys(), "x")

        results = ask(rider_person).post(f"/api/v1/{noun}/batch", {"items": [item, wrong]}).json()["results"]

        assert [one["status"] for one in results] == ["created", "refused"], noun


def test_a_shape_is_read_by_the_owner_and_by_who_took_it(
    ask, rider_person, fitter, stock_manager, tarn, shape
):
    taken = ask(fitter).post("/api/v1/shapes", shape | {"vendor": str(tarn.pk)})
    address = f"/api/v1/shapes/{taken.json()['id']}"

    found = {who.name: ask(who).get(address).status_code for who in (rider_person, fitter, stock_manager)}

    assert taken.status_code == 201
    assert found == {"Robin Vale": 200, "Fen Aldous": 200, "Sal Whitlow": 404}
    assert ask(rider_person).post(f"{address}/void", {"reason": "wrong wheel"}).status_code == 200


def test_lengths_nobody_has_are_refused_by_field(ask, rider_person, shape):
    answer = ask(rider_person).post("/api/v1/shapes", shape | {"length_mm": 2600})

    assert answer.status_code == 422
    assert list(answer.json()["errors"]) == ["length_mm"]


def test_a_notice_is_read_by_whom_it_was_told_and_keeps_the_first_moment(ask, rider_person, crew, now):
    tell([rider_person, crew], topic="flag", about="tire 1", sentence="Look at the rear.", at=now)
    mine, theirs = (Notice.objects.get(person=person) for person in (rider_person, crew))
    robin = ask(rider_person)

    seen = robin.post(f"/api/v1/notices/{mine.pk}/seen")
    Notice.objects.filter(pk=mine.pk).update(read_at="2026-06-01T00:00:00Z")
    again = robin.post(f"/api/v1/notices/{mine.pk}/seen")

    assert seen.json()["read_at"] is not None
    assert again.json()["read_at"] == "2026-06-01T00:00:00Z"
    assert robin.post(f"/api/v1/notices/{theirs.pk}/seen").status_code == 404
    assert Notice.objects.get(pk=theirs.pk).read_at is None
    assert robin.get("/api/v1/notices?is_read=false").json()["results"] == []


def test_shared_reference_notes_are_read_by_anybody_signed_in(ask, world, stranger):
    client = ask(stranger)

    found = client.get(f"/api/v1/reference-notes?spec={world.front_spec.pk}").json()["results"]

    assert [row["pressure_kpa"] for row in found] == [215.0]
    assert {row["organisation"] for row in found} == {None}


def test_a_shape_taken_by_the_service_is_not_everybodys(ask, fitted, stranger, now):
    record_shape(by=SERVICE, at=now, tire=fitted["rear"].tire, quantity="gap", taken_at=now, length_mm=12.0)

    assert ask(stranger).get("/api/v1/shapes").json()["results"] == []
