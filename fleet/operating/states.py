"""What becomes of a job's row when it starts, ends or fails.

A job that fails is tried again after 15 s, 30 s, 1 min and so on up to every 15 min, however often the timetable sends it: what it
trips over is often gone by itself, and a job that fails for good should not keep a worker and the log busy. It is never given up.
"""

import re
from datetime import datetime, timedelta
from typing import Final

from celery.exceptions import TimeLimitExceeded, WorkerLostError
from django.db.models import F, Q

from fleet.logs import kind_of, places_of
from fleet.operating.models import JobState

FIRST_PAUSE: Final = timedelta(seconds=15)
LONGEST_PAUSE: Final = timedelta(minutes=15)
OURS: Final = "/fleet/"
ENDED_BY: Final = re.compile(r"signal \d+ \(\w+\)|exitcode \d+")


def pause_after(failures: int) -> timedelta:
    """Return how long to wait after so many failures in a row."""
    doublings: int = min(failures - 1, 10)
    return min(FIRST_PAUSE * (1 << doublings), LONGEST_PAUSE)


def begin(name: str, *, at: datetime, task_id: str = "") -> bool:
    """Note that a job starts; one that is to wait after a failure is not begun."""
    if JobState.objects.filter(name=name, next_try_at__gt=at).exists():
        return False
    JobState.objects.update_or_create(name=name, defaults={"started_at": at, "task_id": task_id})
    return True


def succeed(name: str, *, at: datetime, duration_s: float) -> None:
    """Note that a job ended well, which ends what was wrong with it."""
    JobState.objects.filter(name=name).update(
        ended_at=at,
        succeeded_at=at,
        duration_s=duration_s,
        failures=0,
        failing_since=None,
        next_try_at=None,
        kind="",
        place="",
    )


def fail(
    name: str, error: BaseException, *, at: datetime, duration_s: float | None, task_id: str = ""
) -> None:
    """Note that a job failed: what kind of exception, and where; its words may quote somebody's entry and are not kept.

    Whoever did not see it start knows no duration: it is taken from the start that was noted for the same task.
    """
    row, _ = JobState.objects.get_or_create(name=name)
    if duration_s is None and row.started_at and row.task_id == task_id:
        duration_s = (at - row.started_at).total_seconds()
    JobState.objects.filter(name=name).update(
        ended_at=at,
        duration_s=duration_s,
        failures=F("failures") + 1,
        failing_since=row.failing_since or at,
        next_try_at=at + pause_after(row.failures + 1),
        kind=kind_of(error)[:150],
        place=_place_of(error)[-300:],
        task_id=task_id or row.task_id,
    )


def _place_of(error: BaseException) -> str:
    """Return where in the service an exception arose; of a process that is gone, what ended it, in the system's words."""
    if isinstance(error, WorkerLostError):
        found = ENDED_BY.search(str(error))
        return found[0] if found else ""
    if isinstance(error, TimeLimitExceeded):
        return ""
    places = places_of(error)
    own = [place for place in places if OURS in place] or places or [""]
    return own[-1].rpartition(OURS)[2]


def failing() -> list[JobState]:
    """Return the jobs whose last run failed, the longest failing first."""
    return list(JobState.objects.filter(failures__gt=0).order_by("failing_since", "name"))


def lost(*, before: datetime) -> list[JobState]:
    """Return the jobs that started before a moment and never ended: their worker was killed."""
    unended = Q(ended_at__isnull=True) | Q(ended_at__lt=F("started_at"))
    return list(JobState.objects.filter(unended, started_at__lt=before).order_by("name"))
