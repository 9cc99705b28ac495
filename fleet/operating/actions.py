"""What operators do with jobs."""

from datetime import datetime

from fleet.accounts.policy import Actor, require_operator
from fleet.celery import timetable, wake
from fleet.operating.errors import NoSuchJob
from fleet.operating.models import JobState


def run_job(*, by: Actor, at: datetime, name: str) -> None:
    """Have a job run again now, whatever it would wait for; the workers do it."""
    require_operator(by)
    if name not in {entry["task"] for entry in timetable().values()}:
        raise NoSuchJob(f"There is no job {name}: the list of jobs names them all.")
    JobState.objects.filter(name=name, next_try_at__gt=at).update(next_try_at=None)
    wake(name)
