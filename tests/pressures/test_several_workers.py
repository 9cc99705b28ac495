"""Several workers and several directors at the same moment, on PostgreSQL."""

from datetime import timedelta
from functools import partial

import pytest
from django.db.models import F

from fleet.accounts.policy import SERVICE
from fleet.celery import app
from fleet.events.models import Day
from fleet.life.assessments import assess
from fleet.life.models import Assessment, Flag
from fleet.pressures.actions import issue_bulletin
from fleet.pressures.errors import IssuedAlready
from fleet.pressures.guidance import draft
from fleet.pressures.models import Bulletin, Guidance
from fleet.running.actions import note_surface
from tests.racing import at_once

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def queue_in_memory(monkeypatch):
    """Committed writes wake the jobs: here into a queue that ends with the test."""
    monkeypatch.setattr(app.conf, "broker_url", "memory://")


def test_two_workers_drafting_the_same_day_leave_one_guidance(hot_day, now):
    at_once(*[partial(draft, hot_day, at=now)] * 4)

    assert Guidance.objects.filter(day=hot_day, is_newest=True).count() == 1
    assert Guidance.objects.get(day=hot_day, is_newest=True).lines.count() == 4


def test_a_draft_begun_earlier_takes_the_place_of_no_later_one(hot_day, now):
    later = draft(hot_day, at=now + timedelta(seconds=5))
    Day.objects.filter(pk=hot_day.pk).update(revision=F("revision") + 1)

    assert draft(hot_day, at=now) == later
    assert draft(hot_day, at=now + timedelta(seconds=9)) != later


def test_issuing_and_drafting_at_once_never_lose_the_draft_that_is_issued(hot_day, director, now):
    """Without a lock the draft that is being issued was sometimes deleted by the next one."""
    for turn in range(5):
        draft(hot_day, at=now + timedelta(seconds=10 * turn))
        Day.objects.filter(pk=hot_day.pk).update(revision=F("revision") + 1)
        moment = now + timedelta(seconds=10 * turn + 5)

        answers = at_once(
            partial(issue_bulletin, by=director, at=moment, day=hot_day),
            partial(draft, hot_day, at=moment),
        )

        assert [type(answer) for answer in answers] == [Bulletin, Guidance]
    assert Bulletin.objects.filter(guidance__isnull=False).count() == 5


def test_workers_assessing_the_same_tires_raise_one_flag(fitted, now):
    note_surface(by=SERVICE, at=now, tire=fitted["rear"].tire, look="cord", seen_at=now)

    at_once(*[partial(assess, None, at=now)] * 4)

    assert Assessment.objects.filter(is_newest=True).count() == 2
    assert Flag.objects.filter(tire=fitted["rear"].tire, cleared_at__isnull=True).count() == 1


def test_of_two_directors_issuing_the_same_draft_one_wins(hot_day, director, now):
    draft(hot_day, at=now)

    answers = at_once(*[partial(issue_bulletin, by=director, at=now, day=hot_day)] * 8)

    assert sum(isinstance(answer, Bulletin) for answer in answers) == 1
    assert sum(isinstance(answer, IssuedAlready) for answer in answers) == 7
    assert Bulletin.objects.filter(day=hot_day).count() == 1
