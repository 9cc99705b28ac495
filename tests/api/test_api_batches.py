"""Many facts in one request: each stored or refused by itself, in the order they were sent."""

import uuid
from datetime import timedelta

import pytest
import yaml
from django.db import connection
from django.test.utils import CaptureQueriesContext

from api.batches import MOST_ITEMS
from api.v1.urls import DOCUMENT, router
from fleet.inventory.models import Fitting, Tire
from fleet.inventory.queries import left_at
from fleet.running.models import PressureReading, Stint, TemperatureReading, TreadReading
from tests.api.test_api_access import NAMED_IN_INPUT, NEVER

BATCHED = {"stints", "fittings", "pressures", "treads", "temperatures", "shapes", "contours", "adjustments"}


def key():
    return str(uuid.uuid4())


def said(answer):
    assert answer.status_code == 200, answer.content
    return [item["status"] for item in answer.json()["results"]]


@pytest.fixture
def post(ask, rider_person):
    """Robin sends a batch."""

    def send(noun, items, person=rider_person, **headers):
        return ask(person).post(f"/api/v1/{noun}/batch", {"items": items}, **headers)

    return send


@pytest.fixture
def pressure(fitted):
    def item(**changed):
        tire = str(fitted["front"].tire.pk)
        body = {"tire": tire, "moment": "set", "taken_at": "2026-06-12T09:00:00Z", "pressure_kpa": 200}
        return body | {"key": key()} | changed

    return item


@pytest.fixture
def stint_at(wheel_pair, now):
    def item(number, **changed):
        """Return one of many stints of two minutes, the first at dawn."""
        start = now - timedelta(hours=3) + timedelta(minutes=3 * number)
        body = {
            "wheel_pair": str(wheel_pair.pk),
            "started_at": start.isoformat(),
            "ended_at": (start + timedelta(minutes=2)).isoformat(),
            "distance_km": 3,
            "front_set_kpa": 200,
            "key": key(),
        }
        return body | changed

    return item


def test_every_item_is_answered_in_its_place(post, pressure):
    items = [pressure(), pressure(pressure_kpa=2000), pressure(moment="in"), pressure(moment="never"), "text"]

    answer = post("pressures", items)

    assert said(answer) == ["created", "refused", "created", "refused", "refused"]
    results = answer.json()["results"]
    assert [result["key"] for result in results] == [*(item["key"] for item in items[:4]), None]
    assert [result["id"] for result in results] == [items[0]["key"], None, items[2]["key"], None, None]
    assert [result["problem"] and list(result["problem"]["errors"]) for result in results] == [
        None,
        ["pressure_kpa"],
        None,
        ["moment"],
        [],
    ]
    assert {result["problem"]["status"] for result in results if result["problem"]} == {422}
    assert PressureReading.objects.count() == 2


def test_a_batch_sent_again_stores_nothing_and_says_so(post, pressure):
    items = [pressure(), pressure(moment="in")]
    post("pressures", items)

    again = post("pressures", [*items, pressure(moment="later")])

    assert said(again) == ["already-there", "already-there", "created"]
    assert PressureReading.objects.count() == 3


def test_an_item_twice_in_one_batch_is_stored_once(post, pressure):
    item = pressure()

    assert said(post("pressures", [item, item])) == ["created", "already-there"]


def test_another_item_under_a_key_used_before_is_refused(post, pressure):
    item = pressure()

    answer = post("pressures", [item, item | {"pressure_kpa": 210}])

    assert said(answer) == ["created", "refused"]
    assert answer.json()["results"][1]["problem"]["code"] == "key-reused"


@pytest.mark.parametrize("wrong", [{}, {"key": None}, {"key": "1"}, {"key": 1}, {"key": ["x"]}])
def test_an_item_without_a_key_of_its_own_is_refused(post, pressure, wrong):
    item = pressure()
    del item["key"]

    answer = post("pressures", [item | wrong])

    assert said(answer) == ["refused"]
    assert list(answer.json()["results"][0]["problem"]["errors"]) == ["key"]


def test_a_refused_stint_leaves_none_of_its_readings(post, stint_at, fitted):
    good, impossible = stint_at(0), stint_at(1, rear_set_kpa=2000)

    assert said(post("stints", [impossible, good])) == ["refused", "created"]
    assert (Stint.objects.count(), PressureReading.objects.count()) == (1, 1)


def test_the_order_of_the_items_is_the_order_they_happen_in(post, fitter, wheel_pair, front_lot):
    fit = {"wheel_pair": str(wheel_pair.pk), "axle": "front", "lot": str(front_lot.pk)}
    before = left_at(front_lot, "trailer")
    items = [fit | {"fitted_at": f"2026-06-12T0{hour}:00:00Z", "key": key()} for hour in (7, 8)]

    answer = post("fittings", items, fitter)

    assert said(answer) == ["created", "refused"]
    assert answer.json()["results"][1]["problem"]["code"] == "overlap"
    assert (Fitting.objects.count(), Tire.objects.count()) == (1, 1)
    assert left_at(front_lot, "trailer") == before - 1


def test_treads_and_temperatures_come_in_batches_too(post, fitted):
    where = {"tire": str(fitted["rear"].tire.pk), "zone": "C", "taken_at": "2026-06-12T09:00:00Z"}

    treads = post("treads", [where | {"depth_mm": 5.6, "key": key()}])
    temperatures = post("temperatures", [where | {"surface_c": 64, "key": key()}])

    assert said(treads) == said(temperatures) == ["created"]
    assert (TreadReading.objects.count(), TemperatureReading.objects.count()) == (1, 1)


def test_the_tires_of_a_batch_wait_for_their_assessment(post, pressure, fitted):
    tire = fitted["front"].tire
    tire.refresh_from_db()
    before = tire.revision

    post("pressures", [pressure(), pressure(moment="in")])

    tire.refresh_from_db()
    assert tire.revision > before


def test_500_items_are_taken(post, pressure):
    answer = post("pressures", [{**pressure(), "moment": "never"}] * MOST_ITEMS)

    assert said(answer) == ["refused"] * 500


def test_one_more_is_too_many_and_nothing_is_stored(post, pressure):
    answer = post("pressures", [pressure()] * (MOST_ITEMS + 1))

    assert (answer.status_code, answer.json()["code"]) == (422, "too-many-items")
    assert "501" in answer.json()["detail"]
    assert not PressureReading.objects.exists()


@pytest.mark.parametrize("body", [{}, {"items": []}, {"items": {}}, {"items": [{}], "more": 1}, [], "text"])
def test_a_batch_of_another_form_is_refused(ask, rider_person, body):
    answer = ask(rider_person).post("/api/v1/stints/batch", body)

    assert (answer.status_code, list(answer.json()["errors"])) == (422, ["items"])


def test_a_batch_under_an_idempotency_key_is_answered_again_as_it_was(post, pressure):
    items = [pressure(), pressure(pressure_kpa=2000)]

    first, second = (post("pressures", items, HTTP_IDEMPOTENCY_KEY="b-1") for _ in range(2))

    assert said(second) == ["created", "refused"]
    assert (second.content, second["Idempotency-Replayed"]) == (first.content, "true")


def test_a_row_of_somebody_else_is_refused_in_a_batch_like_one_that_never_was(post, world, stranger):
    named = [one for one in NAMED_IN_INPUT if one[0] in BATCHED]
    assert {noun for noun, _, _ in named} == BATCHED

    for noun, field, of in named:
        ids = (str(world.rows[of].pk), str(NEVER))
        theirs, never = post(noun, [{field: one, "key": str(NEVER)} for one in ids], stranger).json()[
            "results"
        ]

        assert theirs == never, (noun, field)
        assert "nothing with this id" in theirs["problem"]["errors"][field][0]


def test_a_batch_costs_the_same_few_queries_more_than_its_items(ask, rider_person, stint_at, pressure):
    """Measured on both databases: a stint with a pressure, and a pressure, cost the same in a batch of 5 and of 25."""
    client = ask(rider_person)

    def queries(noun, items):
        with CaptureQueriesContext(connection) as made:
            assert said(client.post(f"/api/v1/{noun}/batch", {"items": items})) == ["created"] * len(items)
        return len(made)

    for noun, item in (("stints", stint_at), ("pressures", lambda _n: pressure())):
        five, fifteen, twenty_five = (
            queries(noun, [item(n) for n in range(start, stop)])
            for start, stop in ((0, 5), (5, 20), (20, 45))
        )

        each = (fifteen - five) / 10
        assert (twenty_five - fifteen) / 10 == each
        assert five - 5 * each <= 12, "session, person, keys stored before, savepoints, revisions"


def test_what_comes_in_batches_says_so():
    document = yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))
    schemas = document["components"]["schemas"]

    assert {prefix for prefix, view, _ in router.registry if hasattr(view, "batch")} == BATCHED
    for noun in BATCHED:
        batch = schemas[f"{noun.removesuffix('s').title()}BatchIn"]["properties"]["items"]
        assert (batch["minItems"], batch["maxItems"]) == (1, 500)
        item = schemas[batch["items"]["$ref"].rsplit("/", 1)[1]]
        assert "key" in item["required"]
