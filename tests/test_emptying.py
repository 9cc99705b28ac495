"""What a test that commits leaves behind: nothing, also where somebody still wrote when it ended."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest
from django.apps import apps
from django.contrib.auth.models import Permission
from django.contrib.contenttypes.models import ContentType
from django.db import connection, transaction
from django.test import TransactionTestCase

from fleet.accounts.actions import add_organisation
from fleet.accounts.policy import SERVICE
from tests.api.world import World
from tests.emptying import STANDING, empty_what_was_written, holding_rows, tables
from tests.journeys.jobs import wait_until


@pytest.mark.django_db
def test_the_tables_are_those_of_all_models():
    there = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}

    assert set(tables()) == there - set(STANDING)


@pytest.fixture
def world(tarn, longfield, director, rider, wheel_pair, fitted, front_spec, layout, entry, now):
    """A row of every noun of the API."""
    cast = {"tarn": tarn, "longfield": longfield, "director": director, "rider": rider, "layout": layout}
    cast |= {"wheel_pair": wheel_pair, "fitted": fitted, "front_spec": front_spec}
    World(now=now, **cast).grow(1)


@pytest.mark.django_db(transaction=True)
def test_nothing_is_left_and_nothing_that_stood_is_gone(world):
    named = ContentType.objects.count(), Permission.objects.count()
    assert len(holding_rows(tables())) > 40

    empty_what_was_written()

    assert holding_rows(tables()) == []
    assert (ContentType.objects.count(), Permission.objects.count()) == named
    assert min(named) > 50


def test_each_test_that_commits_ends_with_it():
    assert TransactionTestCase._fixture_teardown is empty_what_was_written


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_whoever_still_writes_is_waited_for_and_leaves_nothing(db):
    has_written, may_commit = Event(), Event()

    def write():
        try:
            with transaction.atomic():
                add_organisation(by=SERVICE, code="late", name="Late", is_vendor=True, is_organiser=False)
                has_written.set()
                may_commit.wait()
        finally:
            has_written.set()
            connection.close()

    def empty():
        try:
            empty_what_was_written()
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        writing = pool.submit(write)
        has_written.wait()
        emptying = pool.submit(empty)
        try:
            wait_until(somebody_waits_for_a_table, "the emptying waits")
        finally:
            may_commit.set()
        writing.result()
        emptying.result()

    assert holding_rows(tables()) == []


def somebody_waits_for_a_table():
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT 1 FROM pg_locks JOIN pg_database ON pg_database.oid = database "
            "WHERE datname = current_database() AND locktype = 'relation' AND NOT granted"
        )
        return cursor.fetchone()
