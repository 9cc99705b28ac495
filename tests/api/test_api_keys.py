"""A fact sent twice under one key is stored once and answered the same."""

import uuid

from fleet.inventory.models import Fitting
from fleet.running.models import Stint


def test_a_fitting_sent_twice_is_one_fitting_and_one_tire_less(ask, fitter, wheel_pair, front_lot, entry):
    client = ask(fitter)
    body = {
        "wheel_pair": str(wheel_pair.pk),
        "axle": "front",
        "fitted_at": "2026-06-12T07:00:00Z",
        "lot": str(front_lot.pk),
        "key": str(uuid.uuid4()),
    }

    first, second = (client.post("/api/v1/fittings", body) for _ in range(2))

    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json() == second.json()
    assert first.json()["id"] == body["key"]
    assert Fitting.objects.count() == 1
    assert client.get(f"/api/v1/lots/{front_lot.pk}").json()["on_trailer"] == 3


def test_another_stint_under_the_same_key_is_refused(ask, rider_person, wheel_pair, fitted):
    client = ask(rider_person)
    body = {
        "wheel_pair": str(wheel_pair.pk),
        "started_at": "2026-06-12T09:00:00Z",
        "ended_at": "2026-06-12T09:20:00Z",
        "distance_km": 30,
        "key": str(uuid.uuid4()),
    }
    client.post("/api/v1/stints", body)

    answer = client.post("/api/v1/stints", body | {"ended_at": "2026-06-12T09:25:00Z"})

    assert (answer.status_code, answer.json()["code"]) == (409, "key-reused")
    assert Stint.objects.count() == 1


def test_the_last_tire_of_a_lot_is_fitted_once(ask, fitter, world):
    client = ask(fitter)
    pair, lot = world.rows["wheel-pair"], world.rows["lot"]
    body = {
        "wheel_pair": str(pair.pk),
        "axle": "front",
        "reason": "swap",
        "destination": "scrapped",
        "lot": str(lot.pk),
        "vendor": str(lot.vendor_id),
    }
    times = ["2026-06-12T09:00:00Z", "2026-06-12T09:30:00Z", "2026-06-12T10:00:00Z"]

    answers = [client.post("/api/v1/fittings/replace", body | {"fitted_at": at}) for at in times]

    assert [answer.status_code for answer in answers] == [201, 201, 409]
    assert answers[-1].json()["code"] == "sold-out"
