"""Riders are told of a set that is not likely to last their next event: by its chance, once, and only in time."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, enter
from fleet.inventory.actions import place_hold
from fleet.life.assessments import assess
from fleet.life.lasting import tell_lasting
from fleet.life.outlook import EVEN, chances_to_last
from fleet.notices.actions import choose_telling
from fleet.notices.models import Notice
from fleet.notices.queries import Ways


@pytest.fixture
def worn(fitted, ride, measure, now):
    """A rear with hardly any tread left, a front that was not read."""
    for number in range(9):
        ride(minutes_ago=200 - 20 * number, km=100.0 / 10)
    measure(fitted["rear"], 1.3)
    assess(None, at=now)
    return fitted["rear"].tire


@pytest.fixture
def ride_at(event, layout, group, bike, now):
    """Enter Robin's bike on some days from now."""

    def do(*days_ahead):
        for ahead in days_ahead:
            day = add_day(by=SERVICE, event=event, date=now.date() + timedelta(days=ahead), layout=layout)
            enter(by=SERVICE, day=day, bike=bike, group=group, number="27")

    return do


def test_a_tire_that_will_rather_not_last_is_told_once_with_its_chance(worn, ride_at, rider_person, now):
    ride_at(3, 4)
    chance = chances_to_last({worn: 2}, at=now)[worn.pk]
    assert chance < EVEN

    assert [tell_lasting(at=now) for _ in range(2)] == [1, 0]

    [told] = Notice.objects.filter(topic="lasting")
    assert told.person == rider_person
    assert worn.label_code in told.sentence
    assert f"chance {chance:.0%}" in told.sentence
    assert "your 2 days there" in told.sentence


def test_one_that_is_likely_to_last_is_not_told(fitted, ride, ride_at, measure, now):
    ride(minutes_ago=100, km=20.0)
    measure(fitted["rear"], 5.9)
    assess(None, at=now)
    ride_at(3)

    assert tell_lasting(at=now) == 0


@pytest.mark.parametrize("ahead", [0, 9])
def test_nothing_is_told_on_the_last_day_itself_nor_weeks_before(worn, ride_at, now, ahead):
    ride_at(ahead)

    assert tell_lasting(at=now) == 0


def test_without_an_event_there_is_nothing_to_last_for(worn, now):
    assert tell_lasting(at=now) == 0


def test_a_stopped_tire_is_told_by_its_own_message_alone(worn, ride_at, tarn, now):
    place_hold(by=SERVICE, at=now, tire=worn, placed_for=tarn, reason="damage", placed_at=now)
    assess(None, at=now)
    ride_at(3)

    assert tell_lasting(at=now) == 0


def test_another_event_is_another_fact(worn, ride_at, event, now):
    ride_at(3, 4)
    tell_lasting(at=now)
    about = Notice.objects.get(topic="lasting").about

    assert about == f"{event.pk}:{worn.pk}"
    assert len(about) <= 100


def test_who_wants_no_word_of_it_gets_none_on_the_page(worn, ride_at, rider_person, now):
    choose_telling(by=rider_person, ways={"life": Ways(on_page=False, by_mail=True)})
    ride_at(3, 4)

    tell_lasting(at=now)

    told = Notice.objects.get(topic="lasting")
    assert (told.on_page, told.mail) == (False, "waiting")
