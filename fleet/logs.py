"""The log: which request and which task a line belongs to, as text for people or as JSON lines for programs.

A line names nobody. Addresses may carry a code that opens something, so a line about a request names its route; messages of
exceptions may quote what somebody entered, so JSON lines carry the kind of an exception and where it arose.
"""

import json
import logging
import re
import traceback
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any, Final

REQUEST_ID: ContextVar[str] = ContextVar("request_id", default="")
TASK_ID: ContextVar[str] = ContextVar("task_id", default="")
WELL_FORMED: Final = re.compile(r"[A-Za-z0-9_-]{8,64}")
MORE: Final = ("method", "route", "status", "duration_ms", "task", "outcome")
"""What a line may say beside its message."""


def is_well_formed(text: str) -> bool:
    """Return whether an id that came from outside may stand in the log as it is."""
    return WELL_FORMED.fullmatch(text) is not None


def route_of(request: Any) -> str:
    """Return the address of a request with its parts named and not filled in."""
    match = getattr(request, "resolver_match", None)
    return f"/{match.route}" if match else "unknown"


def message_of(record: logging.LogRecord) -> str:
    """Return what a line says, with the route in the place of an address, and without the words of an exception."""
    request = getattr(record, "request", None)
    if record.name.startswith("django.request") and request is not None:
        return f"{getattr(record, 'status_code', 'error')}: {route_of(request)}"
    if record.name == "celery.app.trace" and record.exc_info:  # whose words would repeat the exception's
        return f"task {getattr(record, 'data', {}).get('name', '')} failed"
    return record.getMessage()


class PlainLines(logging.Formatter):
    """Lines for people, with the trace of an exception below."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 -- the library's name
        """Return a line."""
        record.message = message_of(record)
        return super().formatMessage(record)


class WithIds(logging.Filter):
    """Notes on every line which request and which task it belongs to."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Return that the line stays."""
        record.request_id, record.task_id = REQUEST_ID.get(), TASK_ID.get()
        return True


class JsonLines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        """Return a line."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": message_of(record),
        }
        for name in ("request_id", "task_id", *MORE):
            if (value := getattr(record, name, "")) not in {"", None}:
                line[name] = value
        if record.exc_info and record.exc_info[1] is not None:
            line |= {"exception": kind_of(record.exc_info[1]), "trace": places_of(record.exc_info[1])}
        return json.dumps(line, ensure_ascii=False, default=str)


def kind_of(error: BaseException) -> str:
    """Return what kind of exception one is, without its words."""
    kind = type(error)
    return kind.__qualname__ if kind.__module__ == "builtins" else f"{kind.__module__}.{kind.__qualname__}"


def places_of(error: BaseException) -> list[str]:
    """Return where an exception came through, the last place where it arose."""
    return [
        f"{frame.filename}:{frame.lineno} in {frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
    ]


def configured(level: str, *, as_json: bool) -> dict[str, Any]:
    """Return how the log is written: everything on the console, as lines for people or for programs."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {"ids": {"()": WithIds}},
        "formatters": {
            "line": {"()": PlainLines, "format": "{asctime} {levelname} {name}: {message}", "style": "{"},
            "json": {"()": JsonLines},
        },
        "handlers": {
            "console": {
                "class": "logging.StreamHandler",
                "formatter": "json" if as_json else "line",
                "filters": ["ids"],
            }
        },
        "root": {"handlers": ["console"], "level": level},
        "loggers": {"waitress": {"level": level}},
    }
