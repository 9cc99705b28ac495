"""What every task does beside its work: note how it fares, wait after failures, and carry the request it came from.

All of it happens in the process that does the work, but for the end of one that is gone: that is told in the worker's main process.
"""

import logging
import time
from typing import Any

from celery import Task
from celery.exceptions import Ignore
from django.db import DatabaseError, connections
from django.utils import timezone

from fleet.logs import REQUEST_ID, TASK_ID, is_well_formed
from fleet.operating import states

log = logging.getLogger("fleet.tasks")


class Watched(Task):  # type: ignore[type-arg]  # the queue's class has no arguments at run time
    """A task whose runs by a worker are noted; called directly it does its work and nothing more."""

    abstract = True
    Request = "fleet.operating.killed:WatchedRequest"
    _started: float = 0.0

    def before_start(self, task_id: str, args: Any, kwargs: Any) -> None:  # noqa: ARG002 -- the queue's signature
        """Note the start; a job that is to wait after a failure ends here."""
        TASK_ID.set(task_id)
        REQUEST_ID.set(self._request_id())
        self._started = time.monotonic()
        try:
            is_begun = states.begin(self.name, at=timezone.now(), task_id=task_id)
        except DatabaseError as error:
            log.warning("The start of a job was not noted.", exc_info=error, extra={"task": self.name})
            return
        if not is_begun:
            raise Ignore

    def on_success(self, retval: Any, task_id: str, args: Any, kwargs: Any) -> None:  # noqa: ARG002 -- as above
        """Note the end."""
        duration_s = time.monotonic() - self._started
        self._note("succeeded", duration_s)
        try:
            states.succeed(self.name, at=timezone.now(), duration_s=duration_s)
        except DatabaseError as error:
            log.warning("The end of a job was not noted.", exc_info=error, extra={"task": self.name})

    def on_failure(self, exc: BaseException, task_id: str, args: Any, kwargs: Any, einfo: Any) -> None:  # noqa: ARG002
        """Note what went wrong, for the operator to see."""
        is_own = self.request.id == task_id
        duration_s = time.monotonic() - self._started if is_own else None
        TASK_ID.set(task_id)
        self._note("failed", duration_s, exc)
        try:
            states.fail(self.name, exc, at=timezone.now(), duration_s=duration_s, task_id=task_id)
        except DatabaseError as error:
            log.warning("The failure of a job was not noted.", exc_info=error, extra={"task": self.name})
        if not is_own:
            connections.close_all()  # the main process starts others, which must not inherit one

    def after_return(self, *_told: Any) -> None:
        """Forget whose work it was."""
        TASK_ID.set("")
        REQUEST_ID.set("")

    def _request_id(self) -> str:
        """Return the id of the request that woke the job; nothing where the timetable did."""
        told = self.request.get("request_id") or (self.request.get("headers") or {}).get("request_id") or ""
        return str(told) if is_well_formed(str(told)) else ""

    def _note(self, outcome: str, duration_s: float | None, error: BaseException | None = None) -> None:
        duration_ms = None if duration_s is None else round(duration_s * 1000, 1)
        more = {"task": self.name, "outcome": outcome, "duration_ms": duration_ms}
        log.log(logging.ERROR if error else logging.INFO, "task", exc_info=error, extra=more)
