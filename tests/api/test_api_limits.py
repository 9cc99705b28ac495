"""So many requests a minute for each key, and for each person on the pages; what is public is not counted."""

import os
from datetime import timedelta

import pytest
from django.core.cache import caches
from django.core.exceptions import ImproperlyConfigured
from django.test import Client

from fleet.accounts.actions import make_key
from fleet.settings import env_count

ME = "/api/v1/me"
READ = ["read", "write_facts"]


@pytest.fixture
def three(settings):
    settings.API_REQUESTS_PER_MINUTE = 3


@pytest.fixture
def keyed(rider_person, now):
    """Return a client of a program with a new key of Robin's."""

    def make(name):
        _row, token = make_key(by=rider_person, at=now, name=name, scopes=READ)
        return Client(headers={"Authorization": f"Bearer {token}"})

    return make


def statuses(client, count, address=ME):
    return [client.get(address).status_code for _ in range(count)]


def test_the_fourth_request_of_a_minute_waits_for_the_next_one(three, keyed, monkeypatch, now):
    client = keyed("logger")
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(seconds=18))

    found = statuses(client, 3)
    answer = client.get(ME)
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(seconds=60))
    later = client.get(ME)

    assert found == [200, 200, 200]
    assert answer.status_code == 429
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["code"] == "too-many-requests"
    assert "wait 42 seconds" in answer.json()["detail"]
    assert answer["Retry-After"] == "42"
    assert later.status_code == 200


def test_two_keys_of_one_person_and_the_person_each_have_their_own(three, keyed, ask, rider_person):
    first, second, person = keyed("logger"), keyed("dash"), ask(rider_person)

    assert statuses(first, 4) == [200, 200, 200, 429]
    assert statuses(second, 4) == [200, 200, 200, 429]
    assert statuses(person, 4) == [200, 200, 200, 429]


def test_what_is_public_is_not_counted(three, ask):
    assert statuses(ask(), 9, "/api/v1/problems") == [200] * 9
    assert statuses(ask(), 9) == [401] * 9


def test_a_batch_is_one_request_and_a_refused_write_another(three, keyed):
    client = keyed("logger")
    batch = {"items": [{"key": "x"}, {"key": "y"}, {"key": "z"}, {"key": "w"}]}

    sent = client.post("/api/v1/stints/batch", batch, content_type="application/json")
    refused = client.post("/api/v1/stints", {}, content_type="application/json")

    assert [one["status"] for one in sent.json()["results"]] == ["refused"] * 4
    assert refused.status_code == 422
    assert statuses(client, 2) == [200, 429]


def test_a_request_over_the_limit_leaves_its_idempotency_key_free(three, keyed, settings):
    client = keyed("logger")
    statuses(client, 3)
    send = {"data": {}, "content_type": "application/json", "headers": {"Idempotency-Key": "k-1"}}

    over = client.post("/api/v1/stints", **send)
    settings.API_REQUESTS_PER_MINUTE = 9
    again = client.post("/api/v1/stints", **send)

    assert (over.status_code, again.status_code) == (429, 422)
    assert "Idempotency-Replayed" not in again


def test_no_limit_counts_nothing(settings, keyed):
    settings.API_REQUESTS_PER_MINUTE = 0

    assert statuses(keyed("logger"), 9) == [200] * 9


def test_counts_out_of_reach_stop_nobody(three, keyed, settings, caplog):
    redis = "django.core.cache.backends.redis.RedisCache"
    settings.CACHES = {"default": {"BACKEND": redis, "LOCATION": "redis://127.0.0.1:9/0"}}

    assert statuses(keyed("logger"), 5) == [200] * 5
    assert "not counted" in caplog.text


@pytest.mark.redis
def test_several_processes_count_together(three, keyed, settings):
    """Each request counts in Redis, where every process finds it."""
    redis = "django.core.cache.backends.redis.RedisCache"
    settings.CACHES = {"default": {"BACKEND": redis, "LOCATION": os.environ["FLEET_TEST_REDIS_URL"]}}
    client = keyed("logger")
    found = statuses(client, 2)
    del caches["default"]

    assert found + statuses(client, 2) == [200, 200, 200, 429]


def test_a_limit_that_is_no_whole_number_is_refused(monkeypatch):
    monkeypatch.setenv("FLEET_API_REQUESTS_PER_MINUTE", "-5")

    with pytest.raises(ImproperlyConfigured, match="whole number such as 600"):
        env_count("FLEET_API_REQUESTS_PER_MINUTE", 600)
