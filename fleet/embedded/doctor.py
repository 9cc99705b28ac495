"""What is wrong with an installation, found by trying each part, and how to mend it."""

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from django.conf import settings
from django.core.checks import ERROR, WARNING, run_checks
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from kombu import Connection
from kombu.exceptions import OperationalError

LEAST_FREE_BYTES: Final = 500 * 1024 * 1024
PATIENCE_S: Final = 3


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
    name = connection.settings_dict["NAME"]
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError as error:
        yield Finding(
            "database",
            is_well=False,
            seen=f"{connection.vendor} does not answer: {str(error).strip().splitlines()[0]}",
            mend="Start the database, or correct FLEET_DATABASE_URL.",
        )
        return
    yield Finding("database", is_well=True, seen=f"{connection.vendor} answers ({name})")
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    yield Finding(
        "migrations",
        not waiting,
        f"{len(waiting)} not applied, the first {waiting[0][0]}" if waiting else "all applied",
        "Run manage.py migrate." if waiting else "",
    )


def _queue() -> Iterator[Finding]:
    if not settings.REDIS_URL:
        yield Finding("queue", is_well=True, seen=f"files under {settings.QUEUE_DIR}")
        return
    try:
        with Connection(settings.CELERY_BROKER_URL, connect_timeout=PATIENCE_S) as broker:
            broker.ensure_connection(max_retries=1, timeout=PATIENCE_S)
    except (OperationalError, OSError) as error:
        yield Finding(
            "queue",
            is_well=False,
            seen=f"the broker does not answer: {error}",
            mend="Start Redis, or correct FLEET_REDIS_URL.",
        )
        return
    yield Finding("queue", is_well=True, seen="the broker answers")


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
    ("disk", _folders),
    ("static files", _static_files),
    ("mail", _mail),
)
