"""Every address of the router, asked with every method by nobody and by a stranger."""

import uuid
from typing import NamedTuple

import pytest

from api.v1.urls import router

# What everybody who is signed in may read: the shared catalogue and public places.
SHARED = {"line", "spec", "pressure-spec", "track", "layout"}
PUBLIC = {"public-bulletin", "problem"}
# An id that no row has.
NEVER = uuid.UUID("00000000-0000-4000-8000-000000000000")


class Route(NamedTuple):
    noun: str
    action: str
    method: str
    address: str
    is_detail: bool


def routes():
    """Return every method of every address the router has."""
    found = []
    for prefix, view, noun in router.registry:
        for route in router.get_routes(view):
            for method, action in router.get_method_map(view, route.mapping).items():
                address = f"/api/v1/{prefix}" + route.url.removeprefix("^{prefix}").split("$")[0]
                found.append(Route(noun, action, method, address, "{lookup}" in address))
    return found


def address_of(route, world):
    if route.noun not in world.rows and route.is_detail:
        pytest.fail(f"{route.noun} is a new resource: give the world a row of it.")
    row = world.rows.get(route.noun)
    identity = row.day.public_code if route.noun == "public-bulletin" else getattr(row, "pk", "")
    return route.address.replace("{lookup}", str(identity)).replace("{trailing_slash}", "")


def test_the_router_is_seen_whole():
    seen = {route.noun for route in routes()}

    assert seen == {noun for _, _, noun in router.registry}
    assert len(routes()) > 90


def test_nobody_gets_401_everywhere_but_on_what_is_public(ask, world):
    client = ask()

    answers = {
        (route.noun, route.action): getattr(client, route.method)(address_of(route, world)).status_code
        for route in routes()
    }

    assert {key: status for key, status in answers.items() if status != 401} == {
        ("public-bulletin", "retrieve"): 200,
        ("problem", "list"): 200,
    }


def test_a_stranger_gets_404_on_every_row_and_on_all_that_is_done_with_it(ask, world, stranger):
    client = ask(stranger)

    answers = {
        (route.noun, route.action): getattr(client, route.method)(address_of(route, world), {"reason": "no"})
        for route in routes()
        if route.is_detail and route.noun not in PUBLIC
    }

    shared = {key: 200 for key in answers if key[0] in SHARED and key[1] == "retrieve"}
    assert {key: said.status_code for key, said in answers.items() if said.status_code != 404} == shared


def test_a_row_of_somebody_else_answers_exactly_like_one_that_never_was(ask, world, stranger):
    client = ask(stranger)
    details = [
        route for route in routes() if route.action == "retrieve" and route.noun not in SHARED | PUBLIC
    ]

    for route in details:
        theirs = client.get(address_of(route, world))
        never = client.get(route.address.replace("{lookup}", str(NEVER)).replace("{trailing_slash}", ""))

        assert theirs.json() == never.json(), route.noun


def test_a_stranger_lists_nothing_of_what_is_not_shared(ask, world, stranger):
    client = ask(stranger)
    lists = [route for route in routes() if route.action == "list" and route.noun not in SHARED | PUBLIC]

    found = {route.noun: client.get(address_of(route, world)).json()["results"] for route in lists}

    own = {"organisation": ["breckside"]}
    assert {noun: [row["code"] for row in rows] for noun, rows in found.items() if rows} == own


TOO_SMALL = [
    ("crew", "days/{day}/bulletins", {}),
    ("inspector", "days/{day}/draft", {}),
    ("crew", "bulletins/{bulletin}/withdraw", {"reason": "wrong air"}),
    ("fitter", "lots/{lot}/load", {"quantity": 1, "loaded_at": "2026-06-12T09:00:00Z"}),
    ("inspector", "conditions/{conditions}/void", {"reason": "wrong"}),
    ("inspector", "entries/{entry}/withdraw", {}),
]
NAMED_IN_INPUT = [
    ("riders", "registered_with", "organisation"),
    ("bikes", "rider", "rider"),
    ("wheel-pairs", "bike", "bike"),
    ("instruments", "rider", "rider"),
    ("instruments", "organisation", "organisation"),
    ("lots", "vendor", "organisation"),
    ("movements", "lot", "lot"),
    ("tires", "rider", "rider"),
    ("tires", "vendor", "organisation"),
    ("tickets", "wheel_pair", "wheel-pair"),
    ("tickets", "vendor", "organisation"),
    ("fittings", "wheel_pair", "wheel-pair"),
    ("fittings", "lot", "lot"),
    ("fittings", "tire", "tire"),
    ("fittings", "ticket", "ticket"),
    ("fittings", "vendor", "organisation"),
    ("fittings/replace", "wheel_pair", "wheel-pair"),
    ("fittings/replace", "lot", "lot"),
    ("fittings/replace", "tire", "tire"),
    ("holds", "tire", "tire"),
    ("holds", "placed_for", "organisation"),
    ("events", "organiser", "organisation"),
    ("days", "event", "event"),
    ("groups", "event", "event"),
    ("slots", "day", "day"),
    ("slots", "group", "group"),
    ("entries", "day", "day"),
    ("entries", "bike", "bike"),
    ("entries", "group", "group"),
    ("conditions", "day", "day"),
    ("conditions/metar", "day", "day"),
    ("stints", "wheel_pair", "wheel-pair"),
    ("stints", "day", "day"),
    ("stints", "instrument", "instrument"),
    ("pressures", "tire", "tire"),
    ("pressures", "stint", "stint"),
    ("pressures", "instrument", "instrument"),
    ("treads", "tire", "tire"),
    ("treads", "instrument", "instrument"),
    ("temperatures", "tire", "tire"),
    ("temperatures", "stint", "stint"),
    ("feel-notes", "stint", "stint"),
    ("surface-notes", "tire", "tire"),
    ("surface-notes", "vendor", "organisation"),
]


def test_a_member_whose_role_is_too_small_is_told_so(request, ask, world):
    rows = {noun: row.pk for noun, row in world.rows.items()}

    for who, address, body in TOO_SMALL:
        answer = ask(request.getfixturevalue(who)).post(f"/api/v1/{address.format(**rows)}", body)

        assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed"), address


def test_a_row_of_somebody_else_is_refused_in_input_like_one_that_never_was(ask, world, stranger):
    client = ask(stranger)

    for address, field, noun in NAMED_IN_INPUT:
        theirs = client.post(f"/api/v1/{address}", {field: str(world.rows[noun].pk)})
        never = client.post(f"/api/v1/{address}", {field: str(NEVER)})

        assert theirs.status_code == 422, address
        assert "nothing with this id" in theirs.json()["errors"][field][0]
        assert theirs.json() == never.json()


def test_nobody_claims_a_rider_record_for_somebody_else(ask, stranger, rider_person):
    body = {"code": "r-900", "name": "Robin", "person": str(rider_person.pk)}

    answer = ask(stranger).post("/api/v1/riders", body)

    assert "person" in answer.json()["errors"]


def test_drafts_show_the_lines_of_riders_only_to_those_with_the_right_to_them(ask, world, crew, tester):
    address = f"/api/v1/days/{world.rows['day'].pk}/guidance"

    whole, board = (ask(person).get(address).json()["lines"] for person in (crew, tester))

    assert {line["entry"] for line in whole} == {None, str(world.rows["entry"].pk)}
    assert {line["entry"] for line in board} == {None}


def test_entrants_read_their_own_lines_and_no_draft(ask, world, rider_person, stranger):
    """A vendor's fitter who also rides is an entrant like any other."""
    address = f"/api/v1/days/{world.rows['day'].pk}"
    world.enter_also(stranger)

    for person, lines in ((rider_person, 2), (stranger, 0)):
        assert ask(person).get(f"{address}/guidance").status_code == 404
        assert len(ask(person).get(f"{address}/own-lines").json()) == lines
