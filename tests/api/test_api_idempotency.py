"""A request sent twice under one key has one effect and one answer.

The header and what a service answers: draft-ietf-httpapi-idempotency-key-header-07, sections 2.1 to 2.7.
"""

import uuid
from datetime import timedelta
from functools import partial

import pytest
import yaml
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from api.v1.urls import DOCUMENT
from fleet.celery import app
from fleet.garage.models import Bike
from fleet.replies.actions import LEASE, claim_key, keep_answer
from fleet.replies.errors import KeyInProgress
from fleet.replies.models import Reply
from fleet.replies.sweeping import KEPT, sweep_replies
from tests.racing import at_once

KEY = "8e03978e-40d5-43dd-bc93-6894a57f9324"


@pytest.fixture
def post(ask, rider_person):
    """Robin posts with a key."""

    def send(address, body=None, key=KEY, person=rider_person, **headers):
        return ask(person).post(f"/api/v1/{address}", body, HTTP_IDEMPOTENCY_KEY=key, **headers)

    return send


@pytest.fixture
def body(rider):
    return {"rider": str(rider.pk), "code": "b-2", "description": "600 sport"}


def test_the_same_request_again_has_no_second_effect_and_gets_the_same_answer(post, body):
    first, second = post("bikes", body), post("bikes", body)

    assert (first.status_code, second.status_code) == (201, 201)
    assert first.content == second.content
    assert first["Content-Type"] == second["Content-Type"]
    assert (first.headers.get("Idempotency-Replayed"), second["Idempotency-Replayed"]) == (None, "true")
    assert Bike.objects.filter(code="b-2").count() == 1


def test_a_refusal_is_answered_again_as_it_was(post, body, rider):
    refused = post("bikes", body | {"rake_deg": 90})
    again = post("bikes", body | {"rake_deg": 90})

    assert (refused.status_code, again.status_code) == (422, 422)
    assert again.content == refused.content
    assert again["Content-Type"] == "application/problem+json"
    assert again["Idempotency-Replayed"] == "true"


def test_an_answer_without_a_body_is_given_again_without_one(post, world, director):
    address = f"entries/{world.rows['entry'].pk}/withdraw"

    first, second = (post(address, person=director) for _ in range(2))

    assert (first.status_code, second.status_code, second.content) == (204, 204, b"")
    assert "Content-Type" not in second.headers


@pytest.mark.parametrize("change", ["body", "address", "method"])
def test_the_key_of_another_request_is_refused(ask, post, body, rider_person, change):
    post("bikes", body)
    client = partial(ask(rider_person).generic, HTTP_IDEMPOTENCY_KEY=KEY)

    answer = {
        "body": lambda: post("bikes", body | {"description": "1000 sport"}),
        "address": lambda: post("bikes?page_size=1", body),
        "method": lambda: client("PUT", "/api/v1/me/units", "{}", content_type="application/json"),
    }[change]()

    assert (answer.status_code, answer.json()["code"]) == (422, "idempotency-key-reused")
    assert list(answer.json()["errors"]) == ["Idempotency-Key"]
    assert Bike.objects.filter(description="1000 sport").count() == 0


def test_two_people_may_choose_the_same_key(post, body, fitter, tarn, rider):
    other = {"code": "r-900", "name": "Wren Fallow", "registered_with": str(tarn.pk)}

    answers = [post("bikes", body), post("riders", other, person=fitter)]

    assert [answer.status_code for answer in answers] == [201, 201]
    assert all("Idempotency-Replayed" not in answer.headers for answer in answers)


def test_a_key_with_and_without_quotation_marks_is_the_same(post, body):
    post("bikes", body)

    assert post("bikes", body, key=f'"{KEY}"')["Idempotency-Replayed"] == "true"


@pytest.mark.parametrize("key", ["", '""', "two words", "x" * 65, 'half"', '"half', "back\\slash", "türe"])
def test_a_key_of_another_form_is_refused(post, body, key):
    answer = post("bikes", body, key=key)

    assert (answer.status_code, list(answer.json()["errors"])) == (422, ["Idempotency-Key"])
    assert Bike.objects.filter(code="b-2").count() == 0


def test_a_key_whose_first_request_is_not_answered_yet_is_told_to_wait(ask, post, body, rider_person, now):
    claimed = post("bikes", body) and Reply.objects.get()
    Reply.objects.update(answered_at=None, status=None)

    waiting = post("bikes", body)
    Reply.objects.update(claimed_at=now - LEASE)
    taken_over = post("bikes", body | {})

    assert (waiting.status_code, waiting.json()["code"]) == (409, "idempotency-key-in-progress")
    assert taken_over.status_code == 422, "it was carried out anew, and that bike stands already"
    assert Reply.objects.get().pk != claimed.pk


def test_who_lost_the_claim_cannot_keep_an_answer(rider_person, now):
    claim = partial(claim_key, by=rider_person, key=KEY, request_digest="0" * 64)
    lost = claim(at=now - LEASE)
    held = claim(at=now)
    answer = {"by": rider_person, "at": now, "status": 201, "headers": {}, "body": "{}"}

    with pytest.raises(KeyInProgress):
        keep_answer(reply=lost, **answer)
    keep_answer(reply=held, **answer)

    assert claim(at=now).answered_at == now


def test_a_fault_of_the_service_leaves_the_key_free(post, body, rider_person, monkeypatch):
    def broken(**_given):
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr("api.v1.bikes.add_bike", broken)
        with pytest.raises(ZeroDivisionError):
            post("bikes", body)

    assert post("bikes", body).status_code == 201


def test_a_form_sent_with_a_key_is_refused_like_any_form(rider_person):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(rider_person)
    client.get("/api/v1/me")

    answer = client.post(
        "/api/v1/bikes",
        {"code": "b-2"},
        format="multipart",
        HTTP_IDEMPOTENCY_KEY=KEY,
        HTTP_X_CSRFTOKEN=client.cookies["csrftoken"].value,
    )

    assert answer.status_code == 415


def test_answers_are_forgotten_after_48_hours(post, body, now):
    post("bikes", body)

    kept = sweep_replies(at=now + KEPT)
    gone = sweep_replies(at=now + KEPT + timedelta(seconds=1))

    assert (kept, gone) == (0, 1)


def test_a_key_costs_the_same_few_queries_whatever_is_done(ask, rider_person, rider, wheel_pair, fitted):
    client = ask(rider_person)
    bike = {"rider": str(rider.pk), "description": "600 sport"}
    stint = {
        "wheel_pair": str(wheel_pair.pk),
        "started_at": "2026-06-12T09:00:00Z",
        "ended_at": "2026-06-12T09:20:00Z",
        "distance_km": 30,
    }

    def queries(address, sent, **headers):
        with CaptureQueriesContext(connection) as made:
            assert client.post(f"/api/v1/{address}", sent, **headers).status_code == 201
        return len([query for query in made if "SAVEPOINT" not in query["sql"]])

    plain = [queries("bikes", bike | {"code": "b-3"}), queries("stints", stint)]
    later = {"started_at": "2026-06-12T10:00:00Z", "ended_at": "2026-06-12T10:20:00Z"}
    keyed = [
        queries("bikes", bike | {"code": "b-4"}, HTTP_IDEMPOTENCY_KEY=str(uuid.uuid4())),
        queries("stints", stint | later, HTTP_IDEMPOTENCY_KEY=str(uuid.uuid4())),
    ]

    assert [with_key - without for with_key, without in zip(keyed, plain, strict=True)] == [3, 3]


def test_every_write_says_that_it_takes_a_key():
    document = yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))

    silent = [
        (path, method)
        for path, operations in document["paths"].items()
        for method, operation in operations.items()
        if (method != "get")
        != any(parameter["name"] == "Idempotency-Key" for parameter in operation.get("parameters", []))
    ]

    assert silent == []


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_five_twins_at_the_same_moment_have_one_effect(rider_person, body, monkeypatch):
    monkeypatch.setattr(app.conf, "broker_url", "memory://")
    clients = [APIClient() for _ in range(5)]
    for client in clients:
        client.force_login(rider_person)

    def send(client):
        return client.post("/api/v1/bikes", body, HTTP_IDEMPOTENCY_KEY=KEY)

    answers = at_once(*(partial(send, client) for client in clients))

    assert Bike.objects.filter(code="b-2").count() == 1
    assert {answer.status_code for answer in answers} <= {201, 409}
    first = [answer for answer in answers if answer.status_code == 201]
    assert len({answer.content for answer in first}) == 1
    assert len([answer for answer in first if "Idempotency-Replayed" not in answer.headers]) == 1
