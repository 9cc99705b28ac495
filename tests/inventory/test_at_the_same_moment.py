"""Many people at the same moment, on PostgreSQL: SQLite lets one writer in at a time and would hide a race."""

import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.db import connection

from fleet.accounts.policy import SERVICE
from fleet.celery import app
from fleet.errors import KeyReused, Refusal
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.guards import Overlap, SoldOut
from fleet.inventory.actions import (
    fit_tire,
    list_spec,
    move_stock,
    receive_lot,
    remove_tire,
    reserve,
    take_wheels_in,
)
from fleet.inventory.errors import TooFewLeft
from fleet.inventory.models import Fitting, JobTicket, Lot, Removal, StockMovement, Tire
from fleet.inventory.queries import left_at
from fleet.inventory.reservation import Reservation
from fleet.running.actions import log_stint, record_pressure
from fleet.running.models import PressureReading, Stint
from tests.conftest import somebody

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def queue_in_memory():
    """Committed writes wake the jobs: here into a queue that ends with the test."""
    before = app.conf.broker_url
    app.conf.broker_url = "memory://"
    yield
    app.conf.broker_url = before


def at_once(*calls):
    """Start all calls together; give back each answer, or the refusal it ended with."""
    gate = Barrier(len(calls))

    def run(call):
        gate.wait()
        try:
            return call()
        except Refusal as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))


@pytest.fixture
def many_wheels(db):
    """Ten riders' wheel pairs."""
    pairs = []
    for n in range(10):
        rider = register_rider(by=SERVICE, code=f"r-1{n}", name=f"Rider {n}")
        bike = add_bike(by=SERVICE, rider=rider, code=f"b-1{n}", description="600 sport")
        pairs.append(add_wheel_pair(by=SERVICE, bike=bike, code=f"w-1{n}", name="dry"))
    return pairs


def test_ten_fitters_take_the_last_tire_of_a_lot_and_one_gets_it(many_wheels, front_lot, now):
    move_stock(by=SERVICE, at=now, lot=front_lot, kind="sold", place="trailer", quantity=-3, moved_at=now)

    answers = at_once(
        *(
            lambda pair=pair: fit_tire(
                by=SERVICE, at=now, wheel_pair=pair, axle="front", fitted_at=now, lot=front_lot
            )
            for pair in many_wheels
        )
    )

    assert sorted(type(answer) for answer in answers if not isinstance(answer, SoldOut)) == [Fitting]
    assert len([answer for answer in answers if isinstance(answer, SoldOut)]) == 9
    assert (left_at(front_lot, "trailer"), Tire.objects.count(), Fitting.objects.count()) == (0, 1, 1)


def test_five_tires_for_one_axle_at_once_leave_one_on_it_and_four_in_stock(wheel_pair, front_lot, now):
    answers = at_once(
        *[
            lambda: fit_tire(
                by=SERVICE, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, lot=front_lot
            )
        ]
        * 4
    )

    assert len([answer for answer in answers if isinstance(answer, Overlap)]) == 3
    assert left_at(front_lot, "trailer") == 3


def test_one_fitting_sent_by_five_threads_is_stored_once_and_each_gets_it(wheel_pair, front_lot, now):
    key = uuid.uuid4()

    answers = at_once(
        *[
            lambda: fit_tire(
                by=SERVICE, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, lot=front_lot, key=key
            )
        ]
        * 5
    )

    assert {answer.pk for answer in answers} == {key}
    assert (Fitting.objects.count(), Tire.objects.count(), left_at(front_lot, "trailer")) == (1, 1, 3)


def test_one_delivery_sent_by_five_threads_is_one_lot(tarn, front_spec, now):
    key = uuid.uuid4()

    answers = at_once(
        *[
            lambda: receive_lot(
                by=SERVICE,
                at=now,
                vendor=tarn,
                spec=front_spec,
                code="lot-9",
                date_code="0826",
                quantity=6,
                received_at=now,
                key=key,
            )
        ]
        * 5
    )

    assert {answer.pk for answer in answers} == {Lot.objects.get().pk}
    assert StockMovement.objects.count() == 1


def test_one_removal_sent_by_five_threads_is_stored_once(fitted, now):
    key = uuid.uuid4()

    answers = at_once(
        *[
            lambda: remove_tire(
                by=SERVICE,
                at=now,
                fitting=Fitting.objects.get(axle="front"),
                removed_at=now,
                reason="swap",
                destination="kept",
                key=key,
            )
        ]
        * 5
    )

    assert {answer.pk for answer in answers} == {key}
    assert Removal.objects.count() == 1


def test_one_stint_with_its_pressures_sent_by_five_threads_is_stored_once(fitted, wheel_pair, now):
    key = uuid.uuid4()

    answers = at_once(
        *[
            lambda: log_stint(
                by=SERVICE,
                at=now,
                wheel_pair=wheel_pair,
                started_at=now - timedelta(minutes=40),
                ended_at=now - timedelta(minutes=20),
                distance_km=30.0,
                front_set_kpa=205.0,
                front_in_kpa=232.0,
                feel="good",
                key=key,
            )
        ]
        * 5
    )

    assert {answer.pk for answer in answers} == {key}
    assert (Stint.objects.count(), PressureReading.objects.count()) == (1, 2)


def test_two_pressures_under_one_key_at_once_leave_one_and_a_refusal(fitted, now):
    key, tire = uuid.uuid4(), fitted["front"].tire

    answers = at_once(
        *(
            lambda kpa=kpa: record_pressure(
                by=SERVICE, at=now, tire=tire, moment="set", taken_at=now, pressure_kpa=kpa, key=key
            )
            for kpa in (200.0, 210.0)
        )
    )

    assert sorted(type(answer).__name__ for answer in answers) == ["KeyReused", "PressureReading"]
    assert [answer.field for answer in answers if isinstance(answer, KeyReused)] == [""]


def test_ten_tickets_opened_at_once_are_numbered_one_to_ten(many_wheels, tarn, now):
    at_once(
        *(
            lambda pair=pair: take_wheels_in(
                by=SERVICE, at=now, vendor=tarn, wheel_pair=pair, opened_on=now.date()
            )
            for pair in many_wheels
        )
    )

    assert sorted(JobTicket.objects.values_list("number", flat=True)) == list(range(1, 11))


def test_ten_riders_reserve_the_last_two_tires_and_two_get_one(many_wheels, tarn, front_spec, front_lot, now):
    list_spec(by=SERVICE, vendor=tarn, spec=front_spec, price=150)
    move_stock(by=SERVICE, at=now, lot=front_lot, kind="sold", place="trailer", quantity=-2, moved_at=now)
    riders = [pair.bike.rider for pair in many_wheels]
    for number, rider in enumerate(riders):
        rider.person = somebody(f"Rider{number} Holm")
        rider.save()

    answers = at_once(
        *(
            lambda rider=rider: reserve(
                by=rider.person,
                at=now,
                rider=rider,
                vendor=tarn,
                spec=front_spec,
                quantity=1,
                wanted_on=now.date(),
            )
            for rider in riders
        )
    )

    assert len([one for one in answers if isinstance(one, TooFewLeft)]) == 8
    assert Reservation.objects.count() == 2


def test_the_last_tire_is_reserved_or_sold_at_the_same_moment_and_not_both(
    rider, tarn, front_spec, front_lot, stock_manager, now
):
    list_spec(by=SERVICE, vendor=tarn, spec=front_spec, price=150)
    move_stock(by=SERVICE, at=now, lot=front_lot, kind="sold", place="trailer", quantity=-3, moved_at=now)

    answers = at_once(
        lambda: reserve(
            by=rider.person,
            at=now,
            rider=rider,
            vendor=tarn,
            spec=front_spec,
            quantity=1,
            wanted_on=now.date(),
        ),
        lambda: move_stock(
            by=stock_manager, at=now, lot=front_lot, kind="sold", place="trailer", quantity=-1, moved_at=now
        ),
    )

    assert len([one for one in answers if isinstance(one, Refusal)]) == 1
