"""Whether a tire lasts the days of an event, next to the science asked directly."""

from datetime import timedelta

import numpy as np
import pytest

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import place_hold
from fleet.life.assessments import assess
from fleet.life.histories import histories_of
from fleet.life.judging import judged
from fleet.life.learned import NOTHING
from fleet.life.models import Assessment
from fleet.life.outlook import chances_to_last
from fleet.life.pace import Pace
from fleet.science.practice import practice
from fleet.science.remaining import remaining_km
from fleet.science.spent import cycles_chance, tread_chance
from fleet.science.wear import rate_prior


@pytest.fixture
def rear(fitted, ride, measure):
    """A rear tire with two thirds of its tread gone after 900 km."""
    for number in range(9):
        ride(minutes_ago=200 - 20 * number, km=100.0 / 10)
    measure(fitted["rear"], 2.6)
    return fitted["rear"].tire


def test_one_day_is_the_next_day_of_the_assessment(rear, now):
    assess([rear.pk], at=now)

    found = chances_to_last({rear: 1}, at=now)

    assert found[rear.pk] == pytest.approx(Assessment.objects.get(is_newest=True).chance_next_day, abs=1e-4)


@pytest.mark.parametrize("days", [2, 3, 7])
def test_several_days_are_what_the_science_says_of_them(rear, now, days):
    [history] = histories_of([rear])
    seen = judged([history], learned=NOTHING, at=now)
    known = practice("track_day", "soft", "rear")
    tread = remaining_km(
        [[seen.series.now_km[0]]],
        [[2.6]],
        limit_mm=1.0,
        new_depth_mm=6.0,
        rate_prior=rate_prior(None, [known], np.array([-1])),
    )
    [pace] = seen.pace
    worn = tread_chance(tread, days, pace.day_severity_km, pace.day_sd_km)
    cycled = cycles_chance(days, seen.cycles[0], (Pace.USUAL_CYCLES + seen.cycles[0]) / 2.0, 45.0)

    found = chances_to_last({rear: days}, at=now)

    assert found[rear.pk] == pytest.approx(float(((1 - worn) * (1 - cycled))[0]), abs=1e-6)
    assert 0.0 < found[rear.pk] < 1.0


def test_more_days_are_never_likelier_to_be_lasted(rear, now):
    found = [chances_to_last({rear: days}, at=now)[rear.pk] for days in (1, 2, 4, 8, 16)]

    assert found == sorted(found, reverse=True)
    assert found[0] - found[-1] > 0.1


def test_a_tire_on_hold_lasts_nothing(rear, tarn, now):
    place_hold(by=SERVICE, at=now, tire=rear, placed_for=tarn, placed_at=now, reason="damage")

    assert chances_to_last({rear: 1}, at=now) == {rear.pk: 0.0}


def test_tires_asked_about_different_days_are_told_apart(fitted, rear, now):
    front = fitted["front"].tire

    both = chances_to_last({front: 1, rear: 3}, at=now)

    assert both == chances_to_last({front: 1}, at=now) | chances_to_last({rear: 3}, at=now)


def test_an_old_tire_does_not_outlast_its_age(fitted, now):
    rear = fitted["rear"].tire
    rear.made_on = now.date() - timedelta(days=11 * 366)
    rear.save()

    assert chances_to_last({rear: 2}, at=now) == {rear.pk: 0.0}


def test_nothing_asked_asks_nothing(db, now, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert chances_to_last({}, at=now) == {}
