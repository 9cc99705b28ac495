"""A day's tires by spec: no rider can be told from it, and lasting is counted beside the chances that were given."""

import uuid
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.catalogue.models import TireSpec
from fleet.inventory.models import Tire
from fleet.life.day_wear import TireDay
from fleet.pressures.afterwards import Promise, Use
from fleet.pressures.tire_use import lasting_of, ridden_on, use_by_spec


@pytest.fixture
def tire_of(rear_spec):
    def made(rider):
        return Tire(spec=rear_spec, owner_id=uuid.UUID(int=rider))

    return made


def test_tread_is_told_from_five_riders_on_one_value_each(tire_of):
    four = [TireDay(tire_of(rider), 0.9, 0.1 * rider, (0.1, 0.2, 0.4)) for rider in range(1, 5)]
    four.append(TireDay(tire_of(4), 0.9, 9.0, (0.1, 0.2, 0.4)))
    five = [*four, TireDay(tire_of(5), 0.9, 0.5, (0.1, 0.2, 0.4))]

    [of_four], [of_five] = (use_by_spec([], some, [], set()) for some in (four, five))

    assert (of_four.worn, of_four.expected) == (None, None)
    assert of_four.ridden == 5
    # Values 0.1, 0.2, 0.3, 0.5 and 4.7 of five riders; quartiles of five are the second, third and fourth.
    assert of_five.worn.riders == 5
    assert (of_five.worn.low, of_five.worn.middle, of_five.worn.high) == pytest.approx((0.2, 0.3, 0.5))
    assert of_five.expected.middle == pytest.approx(0.2)


def test_lasting_is_counted_by_the_chance_that_was_given(tire_of):
    days = [TireDay(tire_of(1), chance) for chance in (0.95, 0.9, 0.6, 0.2, 0.0, None)]
    ended = {days[2].tire.pk, days[3].tire.pk}

    found = lasting_of(days, ended)

    assert [(one.low, one.tires, one.lasted, one.expected) for one in found] == [
        (0.9, 2, 2, pytest.approx(1.9, abs=0.06)),
        (0.5, 1, 0, 0.6),
        (0.0, 2, 1, 0.2),
    ]


def test_a_spec_tells_what_was_entered_ridden_ended_and_how_far_off(tire_of, front_spec, rear_spec):
    one = TireDay(tire_of(1), None)
    promises = [
        Promise(rear_spec.code, "x", "rear", "Fast", "", 200.0, [2.0, 4.0]),
        Promise(rear_spec.code, "x", "rear", "Slow", "", 200.0, [9.0], otherwise=3),
    ]

    front, rear = use_by_spec([Use(rear_spec, 3), Use(front_spec, 4)], [one], promises, {one.tire.pk})

    assert (front.spec, front.entered, front.ridden, front.off_kpa) == (front_spec, 4, 0, None)
    assert (rear.spec, rear.entered, rear.ridden, rear.ended) == (rear_spec, 3, 1, 1)
    assert (rear.off_kpa, rear.readings) == (4.0, 3)


def test_only_what_stood_on_the_wheels_during_a_stint_of_the_day_was_ridden(
    entry, stint, fitted, day, other_rider
):
    stranger = SimpleNamespace(bike_id=uuid.uuid4())

    with CaptureQueriesContext(connection) as asked:
        found = ridden_on(day, [entry])

    assert {one.tire.pk for one in found} == {fitting.tire_id for fitting in fitted.values()}
    assert len(asked) <= 16
    assert ridden_on(day, [stranger]) == []
    assert TireSpec.objects.count() == 2
