"""How the service is: each part asked cheaply and with little patience; doctor, the health address and the metrics ask here."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import redis
from django.conf import settings
from django.db import DatabaseError, connection
from kombu import Connection
from kombu.exceptions import OperationalError

from fleet.celery import timetable
from fleet.notices.models import Notice
from fleet.operating import states
from fleet.operating.models import JobState
from fleet.pressures.queries import days_wanting_draft

PATIENCE_S: Final = 3
QUEUES: Final = ("work", "timetable")
MISSED: Final = 4
"""Rounds of the timetable a job may miss before it counts as late; a busy worker misses one or two."""
GRACE_S: Final = 60
LIMIT: Final = timedelta(seconds=900)


@dataclass(frozen=True)
class Part:
    """One part that was asked: whether it is well, and what was seen, which names nobody."""

    name: str
    is_well: bool
    seen: str


@dataclass(frozen=True)
class Health:
    """The whole service at one moment."""

    parts: list[Part]
    jobs: list[JobState]
    newest_s: float | None
    drafts_waiting: int
    mails_waiting: int
    queued: dict[str, int]

    @property
    def is_well(self) -> bool:
        """Whether every part is."""
        return all(part.is_well for part in self.parts)


def health(*, at: datetime) -> Health:
    """Ask every part; where the database does not answer, nothing that rests on it is asked."""
    parts = [database()]
    is_stored = parts[0].is_well
    jobs = list(JobState.objects.order_by("name")) if is_stored else []
    if is_stored:
        parts += [worker(jobs, at=at), failures()]
    parts.append(broker())
    return Health(
        parts=parts,
        jobs=jobs,
        newest_s=_newest_s(jobs, at),
        drafts_waiting=len(days_wanting_draft(at=at)) if is_stored else 0,
        mails_waiting=Notice.objects.filter(mail=Notice.Mail.WAITING).count() if is_stored else 0,
        queued=queued() if parts[-1].is_well else {},
    )


def database() -> Part:
    """Ask the database for nothing."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError as error:
        return Part(
            "database", is_well=False, seen=f"{connection.vendor} does not answer ({type(error).__name__})"
        )
    return Part("database", is_well=True, seen=f"{connection.vendor} answers")


def broker() -> Part:
    """Ask the queue's server whether it is there; files need none."""
    if not settings.REDIS_URL:
        return Part("queue", is_well=True, seen="files in the data folder")
    try:
        with Connection(settings.CELERY_BROKER_URL, connect_timeout=PATIENCE_S) as one:
            one.ensure_connection(max_retries=1, timeout=PATIENCE_S)
    except (OperationalError, OSError) as error:
        return Part("queue", is_well=False, seen=f"the broker does not answer ({type(error).__name__})")
    return Part("queue", is_well=True, seen="the broker answers")


def worker(jobs: list[JobState], *, at: datetime) -> Part:
    """Say whether the jobs of the timetable come round: a worker or a timetable that is away shows here."""
    if not jobs:
        return Part("worker", is_well=False, seen="no job ever ran")
    late = sorted(late_jobs(jobs, at=at))
    if late:
        return Part("worker", is_well=False, seen=f"not seen in time: {', '.join(late)}")
    return Part("worker", is_well=True, seen=f"the newest job ended {_newest_s(jobs, at) or 0:.0f} s ago")


def late_jobs(jobs: list[JobState], *, at: datetime) -> Iterator[str]:
    """Return the jobs of the timetable that did not end for several of their rounds; those that fail are told apart."""
    known = {job.name: job for job in jobs}
    for entry in timetable().values():
        allowed = timedelta(seconds=MISSED * entry["schedule"] + GRACE_S)
        job = known.get(entry["task"])
        if job is None or job.failures:  # one that never ran has its first round still before it
            continue
        is_running = job.started_at is not None and at - job.started_at < LIMIT
        is_late = job.ended_at is None or at - job.ended_at > allowed
        if is_late and not is_running:
            yield job.name


def failures() -> Part:
    """Say which jobs fail."""
    found = [f"{job.name} ({job.failures} in a row)" for job in states.failing()]
    return Part("jobs", is_well=not found, seen=f"failing: {', '.join(found)}" if found else "none fails")


def queued() -> dict[str, int]:
    """Return how many messages wait in each queue."""
    if not settings.REDIS_URL:
        folder = Path(settings.QUEUE_DIR) / "messages"
        return {name: len(list(folder.glob(f"*.{name}.msg"))) for name in QUEUES}
    server = redis.Redis.from_url(
        settings.REDIS_URL, socket_timeout=PATIENCE_S, socket_connect_timeout=PATIENCE_S
    )
    with server:
        return {name: int(server.llen(name)) for name in QUEUES}


def _newest_s(jobs: list[JobState], at: datetime) -> float | None:
    """Return the age of the newest job that ended well."""
    ends = [job.succeeded_at for job in jobs if job.succeeded_at]
    return max((at - max(ends)).total_seconds(), 0.0) if ends else None
