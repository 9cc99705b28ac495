"""A run is a stint on one of the two sets, told by the tires that were on."""

import uuid

import pytest

from fleet.errors import Conflict, KeyReused
from fleet.running.actions import void_stint
from fleet.trials.actions import add_run, plan_test, void_run
from fleet.trials.errors import NotInThisTest
from fleet.trials.queries import sets_of, side_of, standing_runs


def test_the_tires_tell_the_side(trial, runs):
    assert [run.side for run in runs] == ["baseline", "candidate"]


def test_a_stint_on_other_tires_is_no_run(plan, trial, tester, ride, alder, now):
    other = plan_test(by=tester, **plan | {"code": "t-2", "baseline_rear": alder["rear"]})
    stint = ride(trial.baseline_pair, 160, [])

    with pytest.raises(NotInThisTest):
        add_run(by=tester, at=now, test=other, stint=stint, purpose="settle")


def test_a_stint_counts_once_and_the_same_request_twice_is_one(trial, runs, tester, now):
    stint, key = runs[0].stint, uuid.uuid4()
    with pytest.raises(Conflict, match="a run of the test already"):
        add_run(by=tester, at=now, test=trial, stint=stint, purpose="settle")

    void_run(by=tester, at=now, run=runs[0], reason="was a sighting stint")
    first, second = (
        add_run(by=tester, at=now, test=trial, stint=stint, purpose="settle", key=key) for _ in range(2)
    )

    assert first == second
    with pytest.raises(KeyReused):
        add_run(by=tester, at=now, test=trial, stint=stint, purpose="change", key=key)


def test_a_voided_stint_counts_no_longer(trial, runs, rider_person, now):
    void_stint(by=rider_person, at=now, stint=runs[1].stint, reason="wrong laps")

    assert standing_runs(trial) == [runs[0]]


def test_the_sets_are_the_tires_fitted(trial, fitted, candidate):
    found = sets_of(trial)

    assert found["baseline"].fittings == fitted
    assert found["candidate"].fittings == candidate


def test_a_stint_of_a_third_set_belongs_to_no_side(trial, ride, fitted, now, rider, second_pair, candidate):
    stint = ride(trial.candidate_pair, 60, [])
    trial.candidate_rear = trial.baseline_rear

    assert side_of(trial, stint) is None
