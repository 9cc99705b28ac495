"""What the worker's main process sees of a job whose own process is gone: cut off at the time limit, or killed by the system.

The queue tells the task's class of the first by itself. Of the second it tells nobody, since the message is given back and the
job starts again at once; noted as a failure, it waits like any other and cannot take the memory of the machine in a loop.
"""

from typing import Any

from celery.exceptions import WorkerLostError
from celery.worker import state
from celery.worker.request import Request


class WatchedRequest(Request):
    """A message on its way through the worker's main process, which tells its task of a process that is gone."""

    def on_failure(self, exc_info: Any, send_failed_event: bool = True, return_ok: bool = False) -> Any:  # noqa: FBT001, FBT002 -- the queue's signature
        """Tell the task before the message is given back, so that it finds the pause when it comes again."""
        error = getattr(exc_info.exception, "exc", exc_info.exception)
        if isinstance(error, WorkerLostError) and not state.should_terminate:
            self.task.on_failure(error, self.id, (), {}, exc_info)
            self.task.after_return("FAILURE", error, self.id, (), {}, exc_info)
        return super().on_failure(exc_info, send_failed_event=send_failed_event, return_ok=return_ok)
