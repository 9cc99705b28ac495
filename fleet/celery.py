"""Offer the job queue as ``fleet.celery:app``; what runs by the clock stands in ``fleet/clock.py``."""

import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import partial
from typing import Any

from celery import Celery
from django.db import transaction
from kombu.exceptions import OperationalError

from fleet.logs import REQUEST_ID

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
app = Celery("fleet", task_cls="fleet.operating.watched:Watched")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
log = logging.getLogger(__name__)
_held: ContextVar[set[str] | None] = ContextVar("held", default=None)


def timetable() -> dict[str, dict[str, Any]]:
    """Return what runs by the clock, which only workers have read by themselves."""
    app.loader.import_default_modules()
    schedule: dict[str, dict[str, Any]] = app.conf.beat_schedule
    return schedule


def wake(*names: str) -> None:
    """Send the named jobs once the present transaction is committed; a lost message only means a later start.

    The jobs look at the rows for what changed and the timetable sends them every few seconds anyway, so a broker
    that is down must not fail the request.
    """
    held = _held.get()
    if held is not None:
        held.update(names)
        return
    for name in names:
        transaction.on_commit(partial(_send, name), robust=True)


@contextmanager
def quiet() -> Iterator[None]:
    """Send each job woken inside the block once, at its end, instead of once a row."""
    held: set[str] = set()
    token = _held.set(held)
    try:
        yield
    finally:
        _held.reset(token)
        wake(*sorted(held))


def _send(name: str) -> None:
    try:
        app.send_task(name, retry=False, expires=60, headers={"request_id": REQUEST_ID.get()})
    except (OperationalError, OSError) as error:
        log.warning("The queue did not take %s (%s); the timetable will start it.", name, error)
