"""Every address of the API, with every method it has, asked by everybody: ``api.txt`` says what each of them gets."""

import json
import re

import pytest

from api.v1.urls import router
from tests.access.bodies import body_for
from tests.access.routes import API, api_routes
from tests.access.table import Wrong, read

TABLE = read("api.txt", unsigned=401)
NOUNS = {prefix: noun for prefix, _view, noun in router.registry}
NEVER = "00000000-0000-4000-8000-000000000000"
SEEN = {
    row.address.removesuffix("/{pk}"): row.answers
    for row in TABLE
    if row.method == "GET" and row.address.endswith("{pk}")
}


def address_of(scene, row):
    noun = NOUNS.get(row.address.split("/{")[0], "")
    if "{" in row.address and noun not in scene.rows:
        pytest.fail(f"{row.address} is a new resource: give the world a row of it (tests/api/world.py).")
    code = scene.rows["day"].public_code
    filled = row.address.replace("{public_code}", code)
    return f"/{API}" + (filled.replace("{pk}", str(scene.rows[noun].pk)) if "{pk}" in filled else filled)


def status_of(answer, row):
    """Return the status of an answer; of a batch, that of its item."""
    if row.address.endswith("/batch") and answer.status_code == 200:
        (item,) = answer.json()["results"]
        return item["problem"]["status"] if item["problem"] else {"created": 201}[item["status"]]
    return answer.status_code


def test_every_method_of_every_address_has_a_row_and_every_row_an_address():
    asked = {(row.method, row.address) for row in TABLE}
    there = {(method, address) for address, methods in api_routes().items() for method in methods}

    assert len(there) > 120
    assert not there - asked, "New in the API: say who gets what in tests/access/api.txt."
    assert not asked - there, "Gone from the API: take these lines out of tests/access/api.txt."


def test_everybody_gets_what_the_table_says_and_sees_no_row_but_those_they_may_read(scene):
    wrong = Wrong()
    for row in TABLE:
        address = address_of(scene, row)
        for who, expected in row.answers.items():
            answer = scene.ask(who, row.method, address, body_for(scene, who, row.label))
            got = status_of(answer, row)
            if got != expected:
                wrong.note(f"{row.label}: {got} instead of {expected}", who, answer.words[:300])
            if row.method == "GET" and (strays := scene.strays(who, answer.words)):
                wrong.note(f"{row.label}: rows that are not theirs", who, str(strays))
            if row.method == "GET" and row.address in SEEN and who != "nobody":
                is_listed = str(scene.rows[NOUNS[row.address]].pk) in {
                    one["id"] for one in answer.json()["results"]
                }
                if is_listed != (SEEN[row.address][who] == 200):
                    wrong.note(f"{row.label}: the row is {'' if is_listed else 'not '}in the list", who)

    assert not wrong, str(wrong)


def test_a_row_of_somebody_else_answers_exactly_like_one_that_never_was(scene):
    for row in TABLE:
        if row.method == "GET" and "{pk}" in row.address and row.answers["b-fitter"] == 404:
            address = address_of(scene, row)
            theirs = scene.ask("b-fitter", "GET", address)
            never = scene.ask("b-fitter", "GET", re.sub("[0-9a-f-]{36}", NEVER, address))

            assert theirs.json() == never.json(), row.label


def test_an_address_answers_no_method_but_its_own(scene):
    wrong = []
    for address, methods in api_routes().items():
        for method in {"GET", "POST", "PUT", "PATCH", "DELETE"} - methods:
            said = scene.ask(
                "director", method, f"/{API}" + address.replace("{pk}", str(scene.rows["day"].pk))
            )
            if said.status_code != 405:
                wrong.append(f"{method} {address}: {said.status_code}")

    assert not wrong


def test_an_address_nobody_has_is_404_to_everybody(scene):
    for who in ("nobody", "owner", "stock-key"):
        answer = scene.ask(who, "GET", "/api/v1/secrets")

        assert (answer.status_code, json.loads(answer.words)["code"]) == (404, "not-found")
