"""A day looked back on: a hot reading counts against the bulletin that was in force, and only where its setting was followed."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.pressures.actions import draft_day, issue_bulletin
from fleet.pressures.afterwards import promises_kept, tires_used
from fleet.running.actions import log_stint


@pytest.fixture
def bulletin(entry, fitted, slot, day, now):
    record_conditions(
        by=SERVICE, at=now, day=day, holds_at=now, standing="observed", source="thermometer", air_c=22.0,
        track_surface_c=34.0, altimeter_kpa=101.6,
    )  # fmt: skip
    draft_day(by=SERVICE, at=now - timedelta(hours=2), day=day)
    return issue_bulletin(by=SERVICE, at=now - timedelta(hours=2), day=day)


@pytest.fixture
def ride(wheel_pair, rider_person, day, now):
    def ridden(minutes_ago, **pressures):
        return log_stint(
            by=rider_person, at=now, wheel_pair=wheel_pair, started_at=now - timedelta(minutes=minutes_ago),
            ended_at=now - timedelta(minutes=minutes_ago - 20), day=day, laps=8, **pressures,
        )  # fmt: skip

    return ridden


def told(bulletin, axle):
    return next(line for line in bulletin.content["lines"] if line["axle"] == axle)


def test_the_hot_reading_of_a_stint_set_as_told_counts_and_another_is_only_counted(
    bulletin, ride, crew, day, now
):
    rear = told(bulletin, "rear")
    ride(100, rear_set_kpa=rear["shown_kpa"] + 2, rear_in_kpa=rear["expected_hot_kpa"] + 6.0)
    ride(70, rear_set_kpa=rear["shown_kpa"] - 12, rear_in_kpa=rear["expected_hot_kpa"] - 12.0)
    ride(40, rear_in_kpa=rear["expected_hot_kpa"])

    [found] = promises_kept(crew, day, at=now)

    assert found.off_kpa == [pytest.approx(6.0)]
    assert (found.otherwise, found.axle, found.group) == (2, "rear", "Fast")
    assert found.middle_kpa == pytest.approx(6.0)
    assert found.span_kpa == (pytest.approx(6.0), pytest.approx(6.0))


def test_a_stint_before_any_bulletin_was_in_force_counts_for_nothing(bulletin, ride, crew, day, now):
    rear = told(bulletin, "rear")
    ride(150, rear_set_kpa=rear["shown_kpa"], rear_in_kpa=rear["expected_hot_kpa"])

    assert promises_kept(crew, day, at=now) == []


def test_what_an_entry_shared_ends_thirty_days_later(bulletin, ride, crew, inspector, day, now):
    rear = told(bulletin, "rear")
    ride(100, rear_set_kpa=rear["shown_kpa"], rear_in_kpa=rear["expected_hot_kpa"])

    assert len(promises_kept(crew, day, at=now + timedelta(days=29))) == 1
    assert promises_kept(crew, day, at=now + timedelta(days=32)) == []
    assert promises_kept(inspector, day, at=now) == []


def test_the_tires_ridden_are_counted_by_spec(bulletin, day, front_spec, rear_spec):
    assert [(use.spec, use.count) for use in tires_used(day)] == [(front_spec, 1), (rear_spec, 1)]


def test_a_day_without_a_draft_says_nothing(day, crew, now):
    assert tires_used(day) == []
    assert promises_kept(crew, day, at=now) == []
