"""Recalls through the API: entered once, found, told, read off a sidewall, lifted."""

import uuid

import pytest

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import enter_recall
from fleet.inventory.telling import tell_recalled

WHEN = "2026-06-12T10:50:00Z"


@pytest.fixture
def given(tarn, front_spec):
    return {
        "entered_for": str(tarn.pk),
        "reference": "W-14",
        "issued_by": "Mirrin",
        "published_on": "2026-06-11",
        "spec": str(front_spec.pk),
        "first_code": "0626",
        "last_code": "1026",
        "what_to_do": "Bring it to your vendor.",
        "key": str(uuid.uuid4()),
    }


@pytest.fixture
def entered(ask, stock_manager, given):
    """The address of Tarn's notice."""
    answer = ask(stock_manager).post("/api/v1/recalls", given)
    assert answer.status_code == 201, answer.content
    return f"/api/v1/recalls/{answer.json()['id']}"


def test_a_notice_sent_twice_is_one_and_marks_what_it_touches(
    ask, stock_manager, fitted, front_lot, rear_lot, given
):
    client = ask(stock_manager)

    first, again = (client.post("/api/v1/recalls", given) for _ in range(2))

    assert (first.status_code, first.json()) == (201, again.json())
    assert first.json()["made_from"] == "2026-02-08"
    lots = {row["code"]: row["is_recalled"] for row in client.get("/api/v1/lots").json()["results"]}
    tires = {row["axle"]: row["is_recalled"] for row in client.get("/api/v1/tires").json()["results"]}
    assert lots == {"lot-f": True, "lot-r": False}
    assert tires == {"front": True, "rear": False}


def test_fitting_a_recalled_lot_is_refused_with_a_code_of_its_own(
    ask, entered, fitter, wheel_pair, front_lot, tarn
):
    answer = ask(fitter).post(
        "/api/v1/fittings",
        {"wheel_pair": str(wheel_pair.pk), "axle": "front", "fitted_at": WHEN, "lot": str(front_lot.pk)}
        | {"fitted_at": "2026-06-12T11:00:00Z"},
    )

    assert (answer.status_code, answer.json()["code"]) == (409, "recalled")
    assert "Recall W-14 by Mirrin" in answer.json()["detail"]


def test_what_is_affected_says_who_is_told_and_who_is_not(
    ask, entered, stock_manager, fitter, fitted, entry, rider, rider_person, tarn, now
):
    tell_recalled(at=now)
    found = ask(stock_manager).get(f"{entered}/affected").json()
    assert [(lot["code"], lot["on_trailer"]) for lot in found["lots"]] == [("lot-f", 3)]
    assert [(one["is_certain"], one["is_on_track_today"], one["read_at"]) for one in found["tires"]] == [
        (True, True, None)
    ]
    assert [(one["name"], one["has_account"], one["is_reached"]) for one in found["riders"]] == [
        ("Robin Vale", True, False)
    ]

    body = {"rider": str(rider.pk), "told_for": str(tarn.pk), "way": "in_person", "told_at": WHEN}
    told = ask(fitter).post(f"{entered}/contacts", body)

    assert told.status_code == 201
    again = ask(stock_manager).get(f"{entered}/affected").json()["riders"][0]
    assert (again["is_reached"], again["contacts"][0]["recorded_by"]) == (True, str(fitter.pk))


def test_riders_see_the_notice_on_their_own_tire_and_nobody_else(
    ask, entered, fitted, rider_person, other_rider, stranger
):
    mine = ask(rider_person).get(f"{entered}/affected").json()

    assert [one["label_code"] for one in mine["tires"]] == [fitted["front"].tire.label_code]
    assert mine["lots"] == []
    for person in (other_rider.person, stranger):
        assert ask(person).get(entered).status_code == 404
        assert ask(person).get(f"{entered}/affected").status_code == 404


def test_a_notice_for_everybody_is_entered_by_the_service_alone_and_read_by_all(
    ask, stock_manager, stranger, given, front_spec, now
):
    assert ask(stock_manager).post("/api/v1/recalls", given | {"entered_for": None}).status_code == 422
    notice = enter_recall(
        by=SERVICE,
        at=now,
        **{name: given[name] for name in ("reference", "issued_by", "first_code", "last_code", "what_to_do")},
        published_on=now.date(),
        spec=front_spec,
    )

    assert ask(stranger).get(f"/api/v1/recalls/{notice.pk}").json()["entered_for"] is None
    assert ask(stranger).post(f"/api/v1/recalls/{notice.pk}/lift", {"reason": "no"}).status_code == 403


def test_a_sidewall_lets_a_tire_go_and_lifting_lets_all_go(
    ask, entered, stock_manager, fitter, fitted, tarn, wheel_pair
):
    front = str(fitted["front"].tire_id)
    body = {"tire": front, "read_for": str(tarn.pk), "identification": "1226", "read_at": WHEN}

    read = ask(fitter).post("/api/v1/sidewalls", body)

    assert (read.status_code, read.json()["made_on"]) == (201, "2026-03-22")
    assert ask(fitter).get(f"{entered}/affected").json()["tires"] == []
    assert ask(fitter).post(f"{entered}/lift", {"reason": "over"}).status_code == 403
    lifted = ask(stock_manager).post(f"{entered}/lift", {"reason": "Mirrin took it back."})
    assert lifted.json()["lift_reason"] == "Mirrin took it back."
    assert ask(stock_manager).post(f"{entered}/lift", {"reason": "again"}).json()["code"] == "recall-lifted"
    assert ask(stock_manager).get("/api/v1/recalls?is_open=true").json()["results"] == []


def test_a_notice_entered_wrongly_is_voided(ask, entered, stock_manager):
    voided = ask(stock_manager).post(f"{entered}/void", {"reason": "weeks mistyped"})

    assert voided.json()["void_reason"] == "weeks mistyped"


def test_wrong_values_are_refused_by_field(ask, stock_manager, given):
    for name, value in (("last_code", "0126"), ("plant", "O7"), ("spec", None), ("axle", "front")):
        answer = ask(stock_manager).post("/api/v1/recalls", given | {name: value, "key": str(uuid.uuid4())})

        assert answer.status_code == 422, name
        assert name in answer.json()["errors"]
