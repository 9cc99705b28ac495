"""The cast of the pages: the same people, on the day the tests run, since a page reads the clock itself."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_slot, record_conditions
from fleet.life.assessments import assess
from fleet.pressures.actions import draft_day, issue_bulletin


@pytest.fixture
def now():
    return timezone.now().replace(second=0, microsecond=0)


@pytest.fixture
def track(track, now):
    """The track lies where it is about noon now, so that no slot of these tests runs over midnight."""
    ahead = 12 - now.hour
    track.time_zone = f"Etc/GMT{-ahead:+d}" if ahead else "UTC"
    track.save()
    return track


@pytest.fixture
def day(event, layout, now):
    today = now.astimezone(ZoneInfo(layout.track.time_zone)).date()
    return add_day(by=SERVICE, event=event, date=today, layout=layout)


@pytest.fixture
def slot(day, group, now):
    """The group's stretch that ended ten minutes ago."""
    return add_slot(
        by=SERVICE,
        day=day,
        group=group,
        starts_at=now - timedelta(minutes=30),
        ends_at=now - timedelta(minutes=10),
    )


@pytest.fixture
def conditions(day, now):
    return record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now,
        standing="observed",
        source="a thermometer in the shade",
        air_c=22.0,
        track_surface_c=35.0,
        altimeter_kpa=101.6,
    )


@pytest.fixture
def assessed(fitted, now):
    assess(None, at=now)
    return fitted


@pytest.fixture
def guidance(conditions, entry, fitted, now, day):
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.fixture
def bulletin(guidance, now, day):
    return issue_bulletin(by=SERVICE, at=now, day=day)


@pytest.fixture
def as_(db):
    """A browser in which somebody is signed in."""

    def open_as(person):
        client = Client()
        client.force_login(person)
        return client

    return open_as
