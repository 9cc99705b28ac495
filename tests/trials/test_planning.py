"""A tire test is planned on a bike opened to the testers, and its steps are free to change."""

from datetime import timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.garage.actions import add_bike, add_wheel_pair, take_back
from fleet.trials.actions import (
    add_step,
    correct_step,
    correct_test,
    end_test,
    judge_test,
    move_step,
    plan_test,
)
from fleet.trials.errors import NotShared
from fleet.trials.models import Step
from fleet.trials.queries import bikes_to_test, may_read, runs_for, stages_of, trials_for


def order(test):
    return list(test.steps.order_by("position").values_list("what", flat=True))


def test_a_plan_proposes_the_steps_in_the_trades_order(trial):
    assert order(trial) == [
        "measure_before",
        "baseline_run",
        "fit",
        "measure_after",
        "start_pressure",
        "scrub_in",
        "settle",
        "one_change",
        "consistency",
        "back",
    ]


def test_a_bike_nobody_opened_is_not_tested(plan, tester, bike):
    with pytest.raises(NotShared, match="share their stints with Longfield"):
        plan_test(by=tester, **plan)

    assert bikes_to_test(tester) == []


def test_a_testers_own_bike_is_open_without_sharing(plan, tester, rider):
    rider.person = tester
    rider.save()

    test = plan_test(by=tester, **plan)

    assert may_read(tester, test)


def test_crew_without_the_right_is_told_and_a_stranger_learns_nothing(plan, shared, crew, stranger):
    with pytest.raises(NotAllowed):
        plan_test(by=crew, **plan)
    with pytest.raises(NotFound):
        plan_test(by=stranger, **plan)


def test_the_same_set_twice_is_no_comparison(plan, shared, tester):
    plan |= {f"candidate_{part}": plan[f"baseline_{part}"] for part in ("front", "rear", "pair")}

    with pytest.raises(Invalid, match="the same tires on the same wheels"):
        plan_test(by=tester, **plan)


def test_a_rear_tire_is_not_planned_for_the_front(plan, shared, tester, rear_spec):
    with pytest.raises(Invalid, match="is a rear tire") as refused:
        plan_test(by=tester, **plan | {"baseline_front": rear_spec})

    assert refused.value.field == "baseline_front"


def test_another_bikes_wheels_are_refused(plan, shared, tester, other_rider):
    other = add_bike(by=SERVICE, rider=other_rider, code="b-9", description="600 sport")
    wheels = add_wheel_pair(by=SERVICE, bike=other, code="w-9", name="dry")

    with pytest.raises(Invalid, match="another bike"):
        plan_test(by=tester, **plan | {"candidate_pair": wheels})


def test_steps_are_done_skipped_added_and_moved(trial, tester):
    first, second = trial.steps.order_by("position")[:2]
    correct_step(by=tester, step=first, state="done")
    correct_step(by=tester, step=second, state="skipped")
    added = add_step(by=tester, test=trial, words="photograph both treads")

    move_step(by=tester, step=second, earlier=True)
    move_step(by=tester, step=second, earlier=True)
    move_step(by=tester, step=added, earlier=False)

    assert order(trial)[:2] == ["baseline_run", "measure_before"]
    assert order(trial)[-1] == "other"
    assert set(Step.objects.filter(test=trial).exclude(state="open").values_list("state", flat=True)) == {
        "done",
        "skipped",
    }


def test_a_step_of_ones_own_says_what_it_is(trial, tester):
    with pytest.raises(Invalid, match="what is to be done"):
        add_step(by=tester, test=trial, words="  ")


def test_every_change_of_the_plan_stands_in_the_trail(trial, tester, longfield, rider):
    correct_test(by=tester, test=trial, held_constant="fuel")

    line = Change.objects.get(row=trial.pk, what="corrected")
    assert (line.by, line.on_behalf_of, line.rider) == (tester, longfield, rider.pk)
    assert line.after == {"held_constant": "fuel"}


def test_the_sets_stay_once_there_is_a_run(trial, runs, tester, front_spec):
    with pytest.raises(Conflict, match="has runs on these sets"):
        correct_test(by=tester, test=trial, candidate_front=front_spec)


def test_a_test_is_planned_running_followed_and_finished(trial, tester, ride, runs, now):
    assert stages_of([trial]) == {trial.pk: "running"}

    judge_test(by=tester, test=trial, verdict="The Alder.", judged_on=now.date())
    assert stages_of([trial]) == {trial.pk: "followed"}

    end_test(by=tester, test=trial, ended_on=now.date(), final_remark="Worn evenly.")
    assert stages_of([trial]) == {trial.pk: "finished"}


def test_a_verdict_comes_before_the_end_and_after_the_plan(trial, tester, now):
    with pytest.raises(Conflict, match="no verdict yet"):
        end_test(by=tester, test=trial, ended_on=now.date())
    with pytest.raises(Invalid, match="on that day or after"):
        judge_test(by=tester, test=trial, verdict="The Alder.", judged_on=now.date() - timedelta(days=1))
    with pytest.raises(Invalid, match="in words"):
        judge_test(by=tester, test=trial, verdict=" ", judged_on=now.date())


def test_the_rider_reads_the_test_of_their_bike_and_nobody_else_does(
    trial, runs, rider_person, crew, stranger
):
    assert list(trials_for(rider_person)) == [trial]
    assert set(runs_for(rider_person)) == set(runs)
    assert [list(trials_for(person)) for person in (crew, stranger)] == [[], []]


def test_a_sharing_taken_back_closes_the_runs_and_leaves_the_plan(
    trial, runs, tester, rider_person, shared, now
):
    assert set(runs_for(tester)) == set(runs)

    take_back(by=rider_person, sharing=shared, at=now)

    assert list(trials_for(tester)) == [trial]
    assert list(runs_for(tester)) == []
    assert not may_read(tester, trial)
    assert may_read(rider_person, trial)
