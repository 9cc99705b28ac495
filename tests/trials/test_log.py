"""The log says what changed between any two runs, and never calls two changes one."""

from datetime import timedelta

import pytest

from fleet.running.actions import adjust, note_surface
from fleet.trials.actions import add_run
from fleet.trials.log import changes_of, log_of, ridden_of


@pytest.fixture
def counted(trial, ride, tester, now):
    """Let a stint be ridden and count."""

    def do(side, minutes_ago, **more):
        stint = ride(trial.pair(side), minutes_ago, [], **more)
        return add_run(by=tester, at=now, test=trial, stint=stint, purpose="change")

    return do


@pytest.fixture
def click(rider_person, trial, now):
    """Let Robin change one adjuster."""

    def do(minutes_ago, part="rear_rebound", before=12.0, after=14.0, side="candidate"):
        return adjust(
            by=rider_person,
            at=now,
            wheel_pair=trial.pair(side),
            part=part,
            before=before,
            after=after,
            unit="clicks",
            made_at=now - timedelta(minutes=minutes_ago),
        )

    return do


def words(test):
    return [[change.what for change in entry.changes] for entry in log_of(test)]


def test_other_tires_with_their_pressures_are_one_change(trial, counted):
    counted("baseline", 200, front_set_kpa=205.0)
    counted("candidate", 100, front_set_kpa=195.0)

    assert words(trial) == [[], ["tires: candidate instead of baseline"]]


def test_tires_and_a_click_are_two_changes(trial, counted, click):
    counted("baseline", 200)
    click(150)
    counted("candidate", 100)

    assert len(log_of(trial)[1].changes) == 2
    assert "rear rebound: 12 to 14 clicks" in words(trial)[1]


def test_on_the_same_tires_each_pressure_is_a_change_of_its_own(trial, counted):
    counted("candidate", 200, front_set_kpa=205.0, rear_set_kpa=190.0)
    counted("candidate", 100, front_set_kpa=199.0, rear_set_kpa=185.0)

    first, second = log_of(trial)[1].changes
    assert (first.before_kpa, first.after_kpa, second.after_kpa) == (205.0, 199.0, 185.0)


def test_less_than_a_gauges_step_is_no_change(trial, counted):
    counted("candidate", 200, front_set_kpa=205.0)
    counted("candidate", 100, front_set_kpa=205.9)

    assert words(trial) == [[], []]


def test_what_was_turned_and_turned_back_is_no_change(trial, counted, click):
    counted("candidate", 200)
    click(150)
    click(140, before=14.0, after=12.0)
    counted("candidate", 100)

    assert words(trial) == [[], []]


def test_a_click_before_the_first_run_or_after_the_last_is_not_between_them(trial, counted, click):
    click(220)
    counted("candidate", 200)
    counted("candidate", 100)
    click(60)

    assert words(trial) == [[], []]


def test_between_any_two_runs_all_changes_add_up(trial, counted, click):
    counted("candidate", 220)
    click(190)
    counted("candidate", 160)
    click(140, part="front_preload", before=5.0, after=6.0)
    counted("candidate", 100, warmers_c=80.0)
    runs = [entry.ridden for entry in log_of(trial)]

    assert [len(entry.changes) for entry in log_of(trial)] == [0, 1, 2]
    assert len(changes_of(trial, runs[0], runs[2])) == 3


def test_what_a_tread_showed_stands_with_the_run_before_it(trial, counted, candidate, rider_person, now):
    """Looked at after the second run; before any run, or half a day later, it is no run's."""
    counted("candidate", 200)
    counted("candidate", 100)
    for minutes_ago, look in ((210, "even"), (70, "cold_tear")):
        note_surface(
            by=rider_person,
            at=now,
            tire=candidate["rear"].tire,
            look=look,
            zone="R2",
            seen_at=now - timedelta(minutes=minutes_ago),
        )
    note_surface(
        by=rider_person,
        at=now + timedelta(days=1),
        tire=candidate["rear"].tire,
        look="blister",
        seen_at=now + timedelta(hours=20),
    )

    first, second = ridden_of(trial)

    assert first.looks == ()
    assert [(axle, note.look, note.zone) for axle, note in second.looks] == [("rear", "cold_tear", "R2")]
