"""Writes that met others at the same rows: tried once more, else told to come again, with nothing stored."""

import sqlite3
import threading
import time
import uuid
from contextlib import contextmanager

import pytest
from django.db import OperationalError, connection, transaction

from fleet.celery import app
from fleet.contention import gave_way
from fleet.inventory.models import Lot
from fleet.inventory.queries import left_at
from fleet.replies.models import Reply
from fleet.running.models import Stint

STINTS = "/api/v1/stints"
AS_ONE = "2026-06-12T{}:00Z"


class UndoneError(Exception):
    """What a database driver says of a transaction that it ended for another."""

    sqlstate = "40P01"


@pytest.fixture
def locked(tmp_path):
    """Return the very error of an SQLite file that another connection is writing."""
    one, other = (sqlite3.connect(tmp_path / "locked", timeout=0) for _ in range(2))
    one.execute("BEGIN IMMEDIATE")
    with pytest.raises(sqlite3.OperationalError) as caught:
        other.execute("BEGIN IMMEDIATE")
    one.close()
    other.close()
    return caught.value


@contextmanager
def failing(times, cause):
    """Let the first inserts of a stint fail as a database under load does; say how many were tried."""
    tried = []

    def run(execute, sql, params, many, context):
        if sql.startswith('INSERT INTO "running_stint"'):
            tried.append(sql)
            if len(tried) <= times:
                raise OperationalError from cause
        return execute(sql, params, many, context)

    with connection.execute_wrapper(run):
        yield tried


@pytest.fixture
def stint(wheel_pair, fitted):
    return {
        "wheel_pair": str(wheel_pair.pk),
        "started_at": AS_ONE.format("09:00"),
        "ended_at": AS_ONE.format("09:20"),
        "distance_km": 30,
        "front_set_kpa": 200,
    }


def test_a_write_undone_for_another_is_carried_out_once_more(ask, rider_person, stint):
    with failing(1, UndoneError()) as tried:
        answer = ask(rider_person).post(STINTS, stint)

    assert (answer.status_code, len(tried)) == (201, 2)
    assert Stint.objects.get().pressures.count() == 1


def test_a_write_undone_twice_is_told_to_come_again_under_the_same_key(ask, rider_person, stint):
    client, key = ask(rider_person), {"Idempotency-Key": "k-1"}

    with failing(2, UndoneError()) as tried:
        busy = client.post(STINTS, stint, headers=key)
    again = client.post(STINTS, stint, headers=key)

    assert (busy.status_code, busy.json()["code"], len(tried)) == (503, "busy", 2)
    assert busy["Retry-After"] == "2"
    assert busy["Content-Type"] == "application/problem+json"
    assert again.status_code == 201
    assert "Idempotency-Replayed" not in again
    assert Stint.objects.count() == 1


def test_a_write_that_waited_too_long_is_not_tried_again(ask, rider_person, stint, locked):
    with failing(1, locked) as tried:
        busy = ask(rider_person).post(STINTS, stint)

    assert (busy.status_code, busy.json()["code"], len(tried)) == (503, "busy", 1)
    assert not Stint.objects.exists()


def test_a_batch_is_undone_and_repeated_as_a_whole(ask, rider_person, stint):
    items = [stint | {"key": str(uuid.uuid4())}]

    with failing(1, UndoneError()):
        answer = ask(rider_person).post(f"{STINTS}/batch", {"items": items})

    assert [one["status"] for one in answer.json()["results"]] == ["created"]


def test_any_other_fault_of_the_database_stays_one(ask, rider_person, stint):
    with failing(1, ValueError("disk full")), pytest.raises(OperationalError):
        ask(rider_person).post(STINTS, stint, headers={"Idempotency-Key": "k-1"})

    assert not Reply.objects.exists()
    assert not gave_way(OperationalError("the server closed the connection"))


@pytest.fixture
def lots(request, monkeypatch):
    """A lot of front and one of rear tires at the trailer; committed writes wake no job."""
    monkeypatch.setattr(app.conf, "broker_url", "memory://")
    return [request.getfixturevalue(name) for name in ("front_lot", "rear_lot")]


def in_the_way(lots, *, ready, go):
    """Hold the second lot; once told, want the first one too, and let the other transaction be the one to give way."""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET LOCAL deadlock_timeout = '30s'")
            Lot.objects.select_for_update().get(pk=lots[1].pk)
            ready.set()
            go.wait(20)
            Lot.objects.select_for_update().get(pk=lots[0].pk)
    finally:
        connection.close()


def until_somebody_waits(go):
    """Give the sign as soon as another transaction waits for a lock."""
    try:
        for _ in range(400):
            with connection.cursor() as cursor:
                cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
                if cursor.fetchone()[0]:
                    break
            time.sleep(0.02)
        go.set()
    finally:
        connection.close()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_that_take_from_the_same_lots_in_opposite_order_both_get_through(ask, fitter, lots, wheel_pair):
    items = [
        {
            "wheel_pair": str(wheel_pair.pk),
            "axle": axle,
            "lot": str(lot.pk),
            "fitted_at": AS_ONE.format("09:00"),
            "key": str(uuid.uuid4()),
        }
        for axle, lot in zip(("front", "rear"), lots, strict=True)
    ]
    ready, go = threading.Event(), threading.Event()
    holder = threading.Thread(target=in_the_way, args=[lots], kwargs={"ready": ready, "go": go})
    watcher = threading.Thread(target=until_somebody_waits, args=[go])
    holder.start()
    assert ready.wait(20)
    watcher.start()

    answer = ask(fitter).post("/api/v1/fittings/batch", {"items": items})
    holder.join()
    watcher.join()

    assert [one["status"] for one in answer.json()["results"]] == ["created", "created"]
    assert [left_at(lot, "trailer") for lot in lots] == [3, 3]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_lock_that_is_not_given_in_time_is_a_503_and_nothing_is_stored(ask, fitter, lots, wheel_pair):
    body = {
        "wheel_pair": str(wheel_pair.pk),
        "axle": "rear",
        "lot": str(lots[1].pk),
        "fitted_at": AS_ONE.format("09:00"),
    }
    client, key = ask(fitter), {"Idempotency-Key": "k-1"}
    ready, go = threading.Event(), threading.Event()
    holder = threading.Thread(target=in_the_way, args=[lots], kwargs={"ready": ready, "go": go})
    holder.start()
    assert ready.wait(20)

    with connection.cursor() as cursor:
        cursor.execute("SET lock_timeout = '300ms'")
    busy = client.post("/api/v1/fittings", body, headers=key)
    go.set()
    holder.join()
    again = client.post("/api/v1/fittings", body, headers=key)

    assert (busy.status_code, busy.json()["code"]) == (503, "busy")
    assert again.status_code == 201
    assert left_at(lots[1], "trailer") == 3
