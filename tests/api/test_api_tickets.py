"""Tickets in the API: what is wished for each wheel, mended on the state that was read, and sent twice."""

import uuid

import pytest

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import add_own_tire
from fleet.inventory.models import JobTicket, TicketWish


@pytest.fixture
def body(tarn, wheel_pair):
    return {"vendor": str(tarn.pk), "wheel_pair": str(wheel_pair.pk), "opened_on": "2026-06-12"}


@pytest.fixture
def trailer(ask, fitter):
    return ask(fitter)


def test_what_is_wished_for_each_wheel_is_stored_and_shown(trailer, body, rear_spec, rider, front_spec, now):
    own = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)
    wishes = [
        {"axle": "rear", "spec": str(rear_spec.pk), "destination": "scrapped"},
        {"axle": "front", "own_tire": str(own.pk)},
    ]

    answer = trailer.post(
        "/api/v1/tickets",
        body | {"wishes": wishes, "promised_at": "2026-06-12T12:00:00Z", "opened_at": "2026-06-12T10:30:00Z"},
    )

    shown = trailer.get(f"/api/v1/tickets/{answer.json()['id']}").json()
    assert answer.status_code == 201
    assert [{name: one[name] for name in one if name != "wished_at"} for one in shown["wishes"]] == [
        {"axle": "front", "spec": None, "own_tire": str(own.pk), "destination": ""},
        {"axle": "rear", "spec": str(rear_spec.pk), "own_tire": None, "destination": "scrapped"},
    ]
    assert (shown["promised_at"], shown["opened_at"]) == ("2026-06-12T12:00:00Z", "2026-06-12T10:30:00Z")


def test_the_same_ticket_sent_twice_under_a_key_is_one(trailer, body):
    keyed = body | {"key": str(uuid.uuid4()), "wishes": [{"axle": "rear"}]}

    first, again = (trailer.post("/api/v1/tickets", keyed) for _ in range(2))

    assert (first.status_code, again.status_code, first.json()) == (201, 201, again.json())
    assert first.json()["id"] == keyed["key"]
    assert JobTicket.objects.count() == TicketWish.objects.count() == 1


def test_a_wrong_wish_is_said_at_its_place_and_nothing_is_stored(trailer, body, front_spec):
    for wishes, status, field in (
        ([{"axle": "rear"}, {"axle": "front", "spec": "lowmoor"}], 422, "wishes.1.spec"),
        ([{"axle": "rear", "spec": str(uuid.uuid4())}], 422, "wishes.0.spec"),
        ([{"axle": "rear", "tire": None}], 422, "wishes.0.tire"),
        ([{"spec": str(front_spec.pk)}], 422, "wishes.0.axle"),
        ([{"axle": "rear", "spec": str(front_spec.pk)}], 422, "spec"),
        ([{"axle": "rear"}] * 3, 422, "wishes"),
        ([{"axle": "rear"}] * 2, 422, "wishes"),
    ):
        answer = trailer.post("/api/v1/tickets", body | {"wishes": wishes})
        assert (answer.status_code, list(answer.json()["errors"])) == (status, [field]), wishes

    assert not JobTicket.objects.exists()


def test_a_tire_that_is_not_the_askers_to_see_cannot_be_wished(trailer, body, other_rider, rear_spec, now):
    foreign = add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=rear_spec)

    theirs, never = (
        trailer.post("/api/v1/tickets", body | {"wishes": [{"axle": "rear", "own_tire": pk}]})
        for pk in (str(foreign.pk), str(uuid.uuid4()))
    )

    assert theirs.status_code == 422
    assert theirs.json() == never.json()


def test_wishes_are_mended_as_a_whole_on_the_state_that_was_read(trailer, body, rear_spec):
    made = trailer.post("/api/v1/tickets", body | {"wish": "both", "wishes": [{"axle": "front"}]})
    address, read = f"/api/v1/tickets/{made.json()['id']}", made["ETag"]
    mended = {"wishes": [{"axle": "rear", "spec": str(rear_spec.pk)}]}

    answer = trailer.patch(address, mended, HTTP_IF_MATCH=read)
    late = trailer.patch(address, {"wishes": []}, HTTP_IF_MATCH=read)

    assert (answer.status_code, late.status_code) == (200, 412)
    assert answer.json()["wish"] == "both"
    assert [one["axle"] for one in trailer.get(address).json()["wishes"]] == ["rear"]


def test_a_move_sent_again_under_its_key_does_not_move_it_back(trailer, body):
    address = f"/api/v1/tickets/{trailer.post('/api/v1/tickets', body).json()['id']}/state"
    first = {"state": "on_machine", "key": str(uuid.uuid4())}
    trailer.post(address, first, HTTP_IF_MATCH="*")
    trailer.post(address, {"state": "ready"}, HTTP_IF_MATCH="*")

    again = trailer.post(address, first, HTTP_IF_MATCH="*")
    other = trailer.post(address, first | {"state": "collected"}, HTTP_IF_MATCH="*")

    assert (again.status_code, again.json()["state"]) == (200, "ready")
    assert (other.status_code, other.json()["code"]) == (409, "key-reused")
