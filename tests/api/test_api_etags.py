"""Nothing is sent twice, and nobody undoes what they did not see.

Entity tags, If-Match and If-None-Match: RFC 9110, sections 8.8.3, 13.1.1 and 13.1.2; 428: RFC 6585, section 3.
"""

from functools import partial

import pytest
import yaml
from rest_framework.test import APIClient

from api.v1.me import MeView
from api.v1.urls import DOCUMENT, router
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import tickets_for
from tests.api.routes import address_of, routes
from tests.racing import at_once

UNITS = {"pressure_unit": "bar", "temperature_unit": "C", "depth_unit": "mm", "distance_unit": "km"}
NEVER = '"0123456789abcdef0123456789abcdef"'


@pytest.fixture
def trailer(ask, fitter):
    return ask(fitter)


@pytest.fixture
def ticket(world):
    return f"/api/v1/tickets/{world.rows['ticket'].pk}"


def test_a_row_read_again_unchanged_is_not_sent_again(trailer, ticket):
    etag = trailer.get(ticket)["ETag"]

    same = trailer.get(ticket, HTTP_IF_NONE_MATCH=etag)

    assert (same.status_code, same.content, same["ETag"]) == (304, b"", etag)
    for known in ("*", f"W/{etag}", f"{NEVER}, {etag}"):
        assert trailer.get(ticket, HTTP_IF_NONE_MATCH=known).status_code == 304


def test_a_row_that_changed_is_sent_with_another_mark(trailer, ticket):
    etag = trailer.get(ticket)["ETag"]
    moved = trailer.post(f"{ticket}/state", {"state": "on_machine"}, HTTP_IF_MATCH=etag)

    again = trailer.get(ticket, HTTP_IF_NONE_MATCH=etag)

    assert (again.status_code, again.json()["state"]) == (200, "on_machine")
    assert again["ETag"] == moved["ETag"] != etag


def test_every_row_has_a_mark_and_can_be_asked_for_by_it(request, ask, world):
    people = [
        ask(request.getfixturevalue(who)) for who in ("rider_person", "stock_manager", "director", "tester")
    ]
    details = [route for route in routes() if route.action == "retrieve" and route.noun != "public-bulletin"]

    for route in details:
        address = address_of(route, world)
        read = [(client, answer) for client in people if (answer := client.get(address)).status_code == 200]

        assert read, f"{route.noun} must be readable for somebody, or nothing was tried"
        for client, answer in read:
            assert client.get(address, HTTP_IF_NONE_MATCH=answer["ETag"]).status_code == 304, route.noun


def test_a_change_on_a_state_that_is_over_is_refused(trailer, ticket):
    etag = trailer.get(ticket)["ETag"]
    move = partial(trailer.post, f"{ticket}/state", HTTP_IF_MATCH=etag)
    first = move({"state": "on_machine"})

    second = move({"state": "waiting"})

    assert first.status_code == 200
    assert (second.status_code, second.json()["code"]) == (412, "changed-since")
    assert trailer.get(ticket).json()["state"] == "on_machine"


@pytest.mark.parametrize("mark", [NEVER, f"W/{NEVER}", "nonsense", ""])
def test_a_mark_that_is_not_the_states_is_refused(trailer, ticket, mark):
    answer = trailer.post(f"{ticket}/state", {"state": "on_machine"}, HTTP_IF_MATCH=mark)

    assert (answer.status_code, answer.json()["code"]) == (412, "changed-since")


def test_a_weak_mark_never_matches(trailer, ticket):
    weak = f"W/{trailer.get(ticket)['ETag']}"

    assert trailer.post(f"{ticket}/state", {"state": "ready"}, HTTP_IF_MATCH=weak).status_code == 412


def test_a_star_stands_for_whatever_state_there_is(trailer, ticket):
    assert trailer.post(f"{ticket}/state", {"state": "ready"}, HTTP_IF_MATCH="*").status_code == 200


def edits():
    views = [(prefix, view) for prefix, view, _ in router.registry]
    found = [(prefix, action) for prefix, view in views for action in getattr(view, "edits", ())]
    return [*found, *(("me", action) for action in MeView.edits)]


MENDED = [
    "bikes",
    "days",
    "entries",
    "events",
    "groups",
    "instruments",
    "reference-notes",
    "riders",
    "slots",
    "test-steps",
    "tickets",
    "tire-tests",
    "wheel-pairs",
]


def test_what_can_be_changed_is_known():
    moved = [("me", "units"), ("tickets", "state"), ("wheel-pairs", "use")]

    assert sorted(edits()) == sorted([*moved, *((noun, "partial_update") for noun in MENDED)])


@pytest.mark.parametrize(
    ("who", "noun", "verb"), [("fitter", "ticket", "state"), ("rider_person", None, "use")]
)
def test_a_change_that_rests_on_nothing_is_refused(request, ask, world, wheel_pair, who, noun, verb):
    address = f"tickets/{world.rows[noun].pk}" if noun else f"wheel-pairs/{wheel_pair.pk}"

    answer = ask(request.getfixturevalue(who)).post(f"/api/v1/{address}/{verb}", {"state": "ready"})

    assert (answer.status_code, answer.json()["code"]) == (428, "if-match-required")
    assert answer["Content-Type"] == "application/problem+json"


def test_units_are_changed_on_the_state_that_was_read(ask, rider_person):
    client = ask(rider_person)
    bare = client.put("/api/v1/me/units", UNITS)
    etag = client.get("/api/v1/me")["ETag"]

    taken = client.put("/api/v1/me/units", UNITS, HTTP_IF_MATCH=etag)
    late = client.put("/api/v1/me/units", UNITS | {"pressure_unit": "psi"}, HTTP_IF_MATCH=etag)

    assert [answer.status_code for answer in (bare, taken, late)] == [428, 200, 412]
    assert client.get("/api/v1/me", HTTP_IF_NONE_MATCH=taken["ETag"]).status_code == 304


def test_a_key_whose_request_had_a_wrong_mark_may_be_used_with_the_right_one(trailer, ticket):
    move = partial(trailer.post, f"{ticket}/state", {"state": "on_machine"}, HTTP_IDEMPOTENCY_KEY="k-1")
    without, stale = move(), move(HTTP_IF_MATCH=NEVER)
    etag = trailer.get(ticket)["ETag"]

    right, again = move(HTTP_IF_MATCH=etag), move(HTTP_IF_MATCH=etag)

    assert [answer.status_code for answer in (without, stale, right, again)] == [428, 412, 200, 200]
    assert (again["Idempotency-Replayed"], again["ETag"]) == ("true", right["ETag"])


def test_the_document_says_what_changes_need():
    paths = yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))["paths"]

    needing = {
        path: {"412", "428"} <= set(operation["responses"])
        for path, operations in paths.items()
        for operation in operations.values()
        if any(said["name"] == "If-Match" and said["required"] for said in operation.get("parameters", []))
    }

    assert needing == {
        **{f"/api/v1/{noun}/{{id}}": True for noun in MENDED},
        "/api/v1/me/units": True,
        "/api/v1/me/telling": True,
        "/api/v1/tickets/{id}/state": True,
        "/api/v1/wheel-pairs/{id}/use": True,
    }


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_five_who_move_one_ticket_on_the_same_state_one_does(fitter, ticket):
    clients = [APIClient() for _ in range(5)]
    for client in clients:
        client.force_login(fitter)
    etag = clients[0].get(ticket)["ETag"]
    states = [state for state in JobTicket.State.values if state != tickets_for(fitter).get().state]

    answers = at_once(
        *(
            partial(client.post, f"{ticket}/state", {"state": states[n % 2]}, HTTP_IF_MATCH=etag)
            for n, client in enumerate(clients)
        )
    )

    assert sorted(answer.status_code for answer in answers) == [200, 412, 412, 412, 412]
