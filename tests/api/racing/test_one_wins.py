"""Clients racing for one thing, on PostgreSQL: exactly one gets it, the others are told so, none runs into a fault."""

import uuid
from datetime import timedelta
from functools import partial

import pytest

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import fit_tire, place_hold, take_wheels_in
from fleet.inventory.models import Fitting, Hold, JobTicket, StockMovement
from fleet.inventory.queries import left_at
from fleet.pressures.actions import draft_day
from fleet.pressures.models import Bulletin
from tests.api.racing.race import CALLERS, DONE, ROUNDS, WON, ago, bare_wheels, lot_of, race

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
LOST = CALLERS - 1


def fitting_on(pair, lot, now, minutes=5):
    at = ago(now, minutes)
    return {"wheel_pair": str(pair.pk), "axle": "front", "fitted_at": at, "lot": str(lot.pk)}


def ticket_for(pair, tarn, now):
    return {"vendor": str(tarn.pk), "wheel_pair": str(pair.pk), "opened_on": now.date().isoformat()}


def test_the_last_tire_of_a_lot_goes_on_one_bike(client, fitter, tarn, front_spec, now):
    trailer = client(fitter)
    pairs = [bare_wheels(caller, tarn) for caller in range(CALLERS)]

    for number in ROUNDS:
        lot = lot_of(1, number, tarn, front_spec, now)
        bodies = [fitting_on(pair, lot, now, 5 + 5 * number) for pair in pairs]
        answers = race(*[partial(trailer.post, "fittings", json=body) for body in bodies])

        assert answers == {WON: 1, (409, "sold-out"): LOST}
        assert (left_at(lot, "trailer"), lot.tires.count()) == (0, 1)
        pairs = [pair for pair in pairs if not pair.fittings.exists()] + [bare_wheels(f"n{number}", tarn)]


def test_the_same_wheels_are_taken_in_once(client, fitter, tarn, now):
    trailer = client(fitter)

    for number in ROUNDS:
        pair = bare_wheels(number, tarn)
        answers = race(*[partial(trailer.post, "tickets", json=ticket_for(pair, tarn, now))] * CALLERS)

        assert answers == {WON: 1, (409, "wheels-in-already"): LOST}
        assert JobTicket.objects.filter(wheel_pair=pair).count() == 1


def test_wheels_taken_in_together_have_a_number_each(client, fitter, tarn, now):
    trailer = client(fitter)
    pairs = [bare_wheels(caller, tarn) for caller in range(CALLERS)]

    answers = race(*[partial(trailer.post, "tickets", json=ticket_for(pair, tarn, now)) for pair in pairs])

    assert answers == {WON: CALLERS}
    assert set(JobTicket.objects.values_list("number", flat=True)) == set(range(1, CALLERS + 1))


def test_a_ticket_is_moved_on_by_one(client, fitter, tarn, now):
    trailer = client(fitter)

    for number in ROUNDS:
        pair = bare_wheels(number, tarn)
        ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=pair, opened_on=now.date())
        address = f"tickets/{ticket.pk}"
        mark = {"If-Match": trailer.get(address).headers["ETag"]}
        move = partial(trailer.post, f"{address}/state", headers=mark)
        answers = race(*[partial(move, json={"state": state}) for state in ["on_machine", "ready"] * 4])

        assert answers == {DONE: 1, (412, "changed-since"): LOST}


def test_a_hold_is_lifted_by_one(client, fitter, tarn, fitted, now):
    trailer, tire = client(fitter), fitted["front"].tire

    for _ in ROUNDS:
        hold = place_hold(by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="damage", placed_at=now)
        lift = partial(trailer.post, f"holds/{hold.pk}/lift")
        answers = race(*[partial(lift, json={"reason": f"looked at it, {one}"}) for one in range(CALLERS)])

        assert answers == {DONE: 1, (409, "hold-lifted"): LOST}
        assert not Hold.objects.filter(lifted_at__isnull=True).exists()


def test_a_bulletin_is_issued_by_one(client, director, day, entry, slot, fitted, now):
    desk = client(director)
    weather = {"day": str(day.pk), "standing": "observed", "source": "thermometer"}

    for number in ROUNDS:
        seen = weather | {"holds_at": ago(now, 9 - number), "air_c": 24.0 + 6 * number}
        assert desk.post("conditions", json=seen).status_code == 201
        draft = draft_day(by=SERVICE, at=now, day=day)
        issue = partial(desk.post, f"days/{day.pk}/bulletins", json={"guidance": str(draft.pk)})
        answers = race(*[issue] * CALLERS)

        assert answers == {WON: 1, (409, "issued-already"): LOST}
        assert list(Bulletin.objects.order_by("number").values_list("number", flat=True)) == list(
            range(1, number + 2)
        )


def test_one_key_of_a_request_has_one_effect(client, fitter, tarn, front_spec, now):
    trailer, lot = client(fitter), lot_of(9, "keys", tarn, front_spec, now)

    for number in ROUNDS:
        body = fitting_on(bare_wheels(number, tarn), lot, now)
        fit = partial(trailer.post, "fittings", json=body, headers={"Idempotency-Key": f"round-{number}"})
        answers = race(*[fit] * CALLERS)
        after = fit()

        assert answers[WON] >= 1
        assert set(answers) <= {WON, (409, "idempotency-key-in-progress")}
        assert (after.status_code, after.headers["Idempotency-Replayed"]) == (201, "true")
        assert (Fitting.objects.count(), left_at(lot, "trailer")) == (number + 1, 8 - number)


def test_one_key_of_a_fact_stores_it_once_and_answers_all_alike(client, fitter, tarn, front_spec, now):
    trailer, lot = client(fitter), lot_of(9, "keys", tarn, front_spec, now)

    for number in ROUNDS:
        body = fitting_on(bare_wheels(number, tarn), lot, now) | {"key": str(uuid.uuid4())}
        answers = race(*[partial(trailer.post, "fittings", json=body)] * CALLERS)

        assert answers == {WON: CALLERS}
        assert Fitting.objects.count() == number + 1
        assert StockMovement.objects.filter(kind="fitted").count() == number + 1


def test_of_fitters_replacing_the_same_tire_one_does(client, fitter, tarn, front_spec, now):
    trailer, lot = client(fitter), lot_of(99, "worn", tarn, front_spec, now)
    why = {"reason": "worn", "destination": "scrapped", "vendor": str(tarn.pk)}

    for number in ROUNDS:
        pair = bare_wheels(number, tarn)
        long_ago = now - timedelta(hours=2)
        fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="front", fitted_at=long_ago, lot=lot)
        bodies = [
            fitting_on(pair, lot, now, CALLERS - caller) | why | {"key": str(uuid.uuid4())}
            for caller in range(CALLERS)
        ]
        answers = race(*[partial(trailer.post, "fittings/replace", json=body) for body in bodies])

        assert answers == {WON: 1, (409, "not-fitted"): LOST}
        assert pair.fittings.count() == 2


def test_an_invitation_made_by_many_at_once_is_open_once(client, fitter, tarn):
    trailer = client(fitter)

    for number in ROUNDS:
        rider = bare_wheels(number, tarn).bike.rider
        answers = race(*[partial(trailer.post, "invitations", json={"rider": str(rider.pk)})] * CALLERS)

        assert answers == {WON: CALLERS}
        assert rider.invitations.filter(revoked_at__isnull=True, claimed_at__isnull=True).count() == 1


def test_of_wheels_put_on_a_bike_at_once_one_pair_stays(client, rider_person, bike, wheel_pair):
    robin = client(rider_person)
    spare = {"by": rider_person, "bike": bike, "name": "wet", "is_in_use": False}
    others = [add_wheel_pair(code=f"w-{one}", **spare) for one in range(CALLERS)]

    for _ in ROUNDS:
        use = [f"wheel-pairs/{one.pk}/use" for one in others]
        answers = race(*[partial(robin.post, address, headers={"If-Match": "*"}) for address in use])

        assert answers == {DONE: CALLERS}
        assert bike.wheel_pairs.filter(is_in_use=True).count() == 1
