"""Inspections over the API: the same rules as at the gate, and nothing for whoever may not read a tire's story."""

import pytest

from fleet.inventory.models import Hold


@pytest.fixture
def found(ask, world, inspector, longfield):
    """Record what tech inspection found on Robin's front tire, and return the answer."""

    def record(by=inspector, **changes):
        given = {
            "tire": str(world.fitted["front"].tire_id),
            "inspected_for": str(longfield.pk),
            "outcome": "hold",
            "words": "Cord shows at the left edge.",
            "inspected_at": "2026-06-12T10:30:00Z",
        }
        return ask(by).post("/api/v1/inspections", given | changes)

    return record


def test_a_hold_at_the_gate_stops_the_tire_and_its_void_lets_it_go(ask, found, inspector):
    made = found()
    hold = Hold.objects.get(pk=made.json()["hold"])

    void = ask(inspector).post(f"/api/v1/inspections/{made.json()['id']}/void", {"reason": "another tire"})

    assert (made.status_code, hold.reason, void.status_code) == (201, "inspection", 200)
    hold.refresh_from_db()
    assert hold.voided_at
    assert ask(inspector).get(f"/api/v1/inspections/{made.json()['id']}").status_code == 404


def test_what_did_not_pass_wants_words_and_a_held_tire_does_not_pass(found):
    silent = found(outcome="advise", words="")
    found()

    passed = found(outcome="pass", words="")

    assert (silent.status_code, list(silent.json()["errors"])) == (422, ["words"])
    assert (passed.status_code, passed.json()["code"]) == (409, "tire-on-hold")


def test_the_rider_and_the_trailer_read_it_and_the_crew_and_a_stranger_do_not(
    ask, found, rider_person, fitter, crew, stranger
):
    made = found().json()["id"]

    answers = [
        ask(who).get(f"/api/v1/inspections/{made}").status_code
        for who in (rider_person, fitter, crew, stranger)
    ]

    assert answers == [200, 200, 404, 404]
