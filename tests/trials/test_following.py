"""A set is followed until it is removed, and several tests add up to a comparison between specs."""

import uuid
from datetime import timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import add_own_tire, fit_tire, remove_tire
from fleet.running.actions import log_stint
from fleet.science.product_life import compare
from fleet.trials.actions import plan_test
from fleet.trials.following import (
    Followed,
    SpecLives,
    came_off_at,
    differences_between,
    followed_of,
    lives_by_spec,
)
from fleet.trials.queries import readable_of, trials_for
from tests.trials.conftest import MORNING


def test_a_tire_is_followed_on_track_on_the_road_and_off_the_wheel(
    trial, ride, candidate, second_pair, rider_person, now
):
    ride(second_pair, 120, MORNING)
    log_stint(
        by=rider_person,
        at=now,
        wheel_pair=second_pair,
        started_at=now - timedelta(minutes=60),
        ended_at=now - timedelta(minutes=20),
        distance_km=40.0,
    )
    remove_tire(
        by=SERVICE,
        at=now,
        fitting=candidate["rear"],
        removed_at=now - timedelta(minutes=10),
        reason="worn",
        destination="scrapped",
    )

    rear = next(one for one in followed_of(trial) if (one.side, one.axle) == ("Candidate", "rear"))

    assert rear.track_km == pytest.approx(7 * 4.12)
    assert (rear.road_km, rear.days, rear.is_on, rear.is_worn) == (40.0, 1, False, True)


def test_a_tire_that_two_tests_follow_counts_once(trial, fitted):
    specs = {one.spec.code: len(one.tires) for one in lives_by_spec([trial, trial])}

    assert set(specs.values()) == {1}


def test_two_tires_of_one_spec_fitted_at_one_moment_are_two(trial, plan, candidate, tester, rider, bike, now):
    pair = add_wheel_pair(by=SERVICE, bike=bike, code="w-003", name="third wheels", is_in_use=False)
    rear = trial.candidate_rear
    fit_tire(
        by=SERVICE,
        at=now,
        wheel_pair=pair,
        axle="rear",
        fitted_at=candidate["rear"].fitted_at,
        tire=add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear, label_code="THIRDR"),
    )
    other = plan_test(by=tester, **plan | {"code": "t-2", "candidate_pair": pair})

    [lives] = [one for one in lives_by_spec([trial, other]) if one.spec == rear]

    assert len(lives.tires) == 2


def test_the_set_is_off_once_both_its_tires_are(trial, candidate, now):
    assert came_off_at(followed_of(trial)) is None
    for axle, minutes_ago in (("front", 30), ("rear", 10)):
        remove_tire(
            by=SERVICE,
            at=now,
            fitting=candidate[axle],
            removed_at=now - timedelta(minutes=minutes_ago),
            reason="worn",
            destination="scrapped",
        )
        off = came_off_at(followed_of(trial))
        assert off == (now - timedelta(minutes=10) if axle == "rear" else None)


def test_more_tests_are_compared_with_no_more_queries(
    trial, plan, tester, runs, ride, candidate, django_assert_num_queries
):
    others = [plan_test(by=tester, **plan | {"code": f"t-{number}"}) for number in (2, 3, 4)]
    with CaptureQueriesContext(connection) as one:
        lives_by_spec(readable_of(tester, list(trials_for(tester).filter(pk=trial.pk))))

    with django_assert_num_queries(len(one)):
        lives = lives_by_spec(readable_of(tester, list(trials_for(tester))))

    assert len(others) == 3
    assert sum(len(spec.tires) for spec in lives) == 4


def lived(spec, now, *lives):
    return SpecLives(
        spec,
        tuple(
            Followed(
                uuid.uuid4(),
                "Candidate",
                "rear",
                spec,
                now,
                now,
                "",
                is_worn=worn,
                track_km=km,
                road_km=0.0,
                days=1,
            )
            for km, worn in lives
        ),
    )


def test_specs_are_compared_as_the_science_does(rear_spec, alder, now):
    first = lived(rear_spec, now, (300.0, True), (320.0, True), (280.0, True), (310.0, False))
    second = lived(alder["rear"], now, (500.0, True), (520.0, True), (480.0, True), (510.0, True))

    found = differences_between([first, second])[0]
    expected = compare(
        [300.0, 320.0, 280.0, 310.0, 500.0, 520.0, 480.0, 510.0],
        [True, True, True, False, True, True, True, True],
        [False] * 4 + [True] * 4,
    )

    assert found.mean_km == float(np.asarray(expected.mean_difference.value))
    assert found.says == f"{alder['rear']} lasts longer."


def test_one_tire_of_a_spec_is_not_compared_and_none_worn_tells_nothing(rear_spec, alder, now):
    one = lived(rear_spec, now, (300.0, True))
    two = lived(alder["rear"], now, (500.0, True), (520.0, True))
    running = lived(rear_spec, now, (300.0, False), (200.0, False))
    also = lived(alder["rear"], now, (100.0, False), (120.0, False))

    assert differences_between([one, two]) == []
    assert differences_between([running, also])[0].says == "Too few sets were worn out to tell them apart."
