"""What is wrong with an installation, found by trying each part, and how to mend it."""

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from django.conf import settings
from django.core.checks import ERROR, WARNING, run_checks
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from fleet.operating import states
from fleet.operating.health import LIMIT, Part, broker, database, failures, worker
from fleet.operating.models import JobState

LEAST_FREE_BYTES: Final = 500 * 1024 * 1024


@dataclass(frozen=True)
class Finding:
    """One part that was tried: whether it is well, what was seen, and how to mend it where it is not."""

    part: str
    is_well: bool
    seen: str
    mend: str = ""


def examine() -> Iterator[Finding]:
    """Try each part of the installation; one that cannot be tried at all is a finding of its own."""
    for part, look in PARTS:
        try:
            yield from look()
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what is wrong
            yield Finding(
                part,
                is_well=False,
                seen=f"{type(error).__name__}: {error}",
                mend="Read the log of the service.",
            )


def _settings() -> Iterator[Finding]:
    found = [one for one in run_checks(include_deployment_checks=settings.PRODUCTION) if one.level >= WARNING]
    for one in found:
        yield Finding("settings", one.level < ERROR, f"{one.id}: {one.msg}", one.hint or "")
    if not found:
        yield Finding("settings", is_well=True, seen="no contradiction")


def _database() -> Iterator[Finding]:
    part = database()
    yield _found(part, "Start the database, or correct FLEET_DATABASE_URL.")
    if not part.is_well:
        return
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    yield Finding(
        "migrations",
        not waiting,
        f"{len(waiting)} not applied, the first {waiting[0][0]}" if waiting else "all applied",
        "Run manage.py migrate." if waiting else "",
    )


def _queue() -> Iterator[Finding]:
    yield _found(broker(), "Start Redis, or correct FLEET_REDIS_URL.")


def _jobs() -> Iterator[Finding]:
    if not database().is_well:
        return
    part = failures()
    yield _found(part, "Look at manage.py jobs and in the log for the task it names; --run has it run again.")
    at = timezone.now()
    if jobs := list(JobState.objects.all()):
        yield _found(worker(jobs, at=at), "Start the worker and the timetable, or look into their logs.")
    for job in states.lost(before=at - LIMIT):
        yield Finding(
            "jobs",
            is_well=False,
            seen=f"{job.name} began at {job.started_at:%Y-%m-%d %H:%M} UTC and never ended",
            mend="Its worker was killed: look whether memory is short; the timetable starts it again.",
        )


def _found(part: Part, mend: str) -> Finding:
    return Finding(part.name, part.is_well, part.seen, "" if part.is_well else mend)


def _folders() -> Iterator[Finding]:
    free = shutil.disk_usage(settings.DATA_DIR).free
    yield Finding(
        "disk",
        free >= LEAST_FREE_BYTES,
        f"{free / 1e9:.1f} GB free under {settings.DATA_DIR}",
        "" if free >= LEAST_FREE_BYTES else "Make room, or set FLEET_DATA_DIR to a larger disk.",
    )


def _static_files() -> Iterator[Finding]:
    if not settings.PRODUCTION:
        yield Finding("static files", is_well=True, seen="found where they lie; gathered in production only")
        return
    manifest = settings.STATIC_ROOT / "staticfiles.json"
    try:
        count = len(json.loads(manifest.read_text())["paths"])
    except (OSError, ValueError, KeyError):
        yield Finding(
            "static files",
            is_well=False,
            seen=f"{manifest} is missing or broken",
            mend="Run manage.py collectstatic --no-input.",
        )
        return
    yield Finding("static files", is_well=True, seen=f"{count} gathered")


def _mail() -> Iterator[Finding]:
    is_console = settings.EMAIL_BACKEND.endswith("console.EmailBackend")
    is_well = not (settings.PRODUCTION and is_console)
    yield Finding(
        "mail",
        is_well,
        "messages are printed on the console" if is_console else settings.EMAIL_BACKEND,
        "" if is_well else "Set FLEET_EMAIL_BACKEND: codes to sign in reach nobody on a console.",
    )


PARTS: Final[tuple[tuple[str, Callable[[], Iterator[Finding]]], ...]] = (
    ("settings", _settings),
    ("database", _database),
    ("queue", _queue),
    ("jobs", _jobs),
    ("disk", _folders),
    ("static files", _static_files),
    ("mail", _mail),
)
