"""Writes that wait for each other: the database gives one of them up, and that one is tried again or refused.

PostgreSQL ends a deadlock by undoing one of its transactions; SQLite gives up waiting for the one writer it lets in.
"""

import sqlite3
from collections.abc import Callable
from typing import Final, TypeVar

from django.db import OperationalError, transaction

from fleet.errors import Kind, Refusal

T = TypeVar("T")
# PostgreSQL, appendix A: deadlock_detected and serialization_failure; lock_not_available was waited for long enough.
_UNDONE: Final = frozenset({"40P01", "40001"})
_WAITED: Final = frozenset({"55P03"})
# The low byte is the result code without its details: sqlite.org/rescode.html.
_SQLITE_WAITED: Final = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})
_RESULT_CODE: Final = 0xFF


class Busy(Refusal):
    """A write that gave way to others at the same moment; it can be sent again as it is."""

    kind = Kind.BUSY
    code = "busy"

    def __init__(self) -> None:
        super().__init__(
            "Others were writing the same things at this moment, and nothing was stored: send it again in a few seconds."
        )


def gave_way(error: BaseException) -> bool:
    """Return whether the database gave a write up for others, which says nothing about the write itself."""
    return isinstance(error, OperationalError) and (_was_undone(error) or _waited_too_long(error))


def settled(write: Callable[[], T]) -> T:
    """Carry a write out as a whole; one undone for another is carried out once more, now that the other is done."""
    try:
        with transaction.atomic():
            return write()
    except OperationalError as error:
        if not _was_undone(error):
            raise
    with transaction.atomic():
        return write()


def _was_undone(error: OperationalError) -> bool:
    return getattr(error.__cause__, "sqlstate", None) in _UNDONE


def _waited_too_long(error: OperationalError) -> bool:
    code = getattr(error.__cause__, "sqlite_errorcode", 0)
    return getattr(error.__cause__, "sqlstate", None) in _WAITED or code & _RESULT_CODE in _SQLITE_WAITED
