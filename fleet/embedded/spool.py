"""Keep messages as files that are whole or absent, taken by one consumer, and never lost by a kill.

A message lies in the spool folder as ``<time>_<unique>.<queue>.msg``. A consumer takes it by renaming it into a
folder of its own under ``taken/`` whose lock the kernel releases when the process ends, however it ends; whoever
looks next gives the messages of a dead consumer back under their old names. Nothing is forced to the disk: a power
cut can lose the newest messages, which is harmless because the truth is in the database and messages only wake.
"""

import contextlib
import fcntl
import json
import logging
import os
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

logger = logging.getLogger(__name__)

LOOK_FOR_DEAD_EVERY_S = 5.0
_name_lock = threading.Lock()
_last_time_ns = 0


def message_name(queue: str) -> str:
    """Return a file name that sorts after every earlier name of this process, also when the clock steps back."""
    global _last_time_ns  # noqa: PLW0603 -- one counter per process is the point
    with _name_lock:
        _last_time_ns = max(time.time_ns(), _last_time_ns + 1)
        return f"{_last_time_ns:020d}_{uuid.uuid4().hex}.{queue}.msg"


def write_whole(path: Path, text: str) -> None:
    """Write a file so that a reader sees all of it or nothing."""
    draft = path.with_name(f"{path.name}.{uuid.uuid4().hex}.draft")
    try:
        draft.write_text(text)
        draft.replace(path)
    except OSError:
        draft.unlink(missing_ok=True)
        raise


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold an exclusive lock on a file, made when missing, for the length of a block."""
    with path.open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def set_aside(path: Path, folder: Path) -> None:
    """Move an unreadable file out of the way, kept for a person to look at, and say so in the log."""
    folder.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileNotFoundError):
        path.replace(folder / path.name)
        logger.warning("Unreadable queue file %s moved to %s.", path.name, folder)


def read_message(path: Path) -> dict[str, Any]:
    """Return a message; a file that does not hold one raises ``ValueError``."""
    payload = json.loads(path.read_bytes())
    if not isinstance(payload, dict) or not isinstance(payload.get("properties"), dict):
        raise ValueError("not a message")  # noqa: TRY004 -- one error for every unreadable file
    if "body" not in payload or "delivery_tag" not in payload["properties"]:
        raise ValueError("a message without body or delivery tag")
    return payload


class Spool:
    """One party at the spool: any may put; one that takes holds what it took until it is finished."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._mine: Path | None = None
        self._lock: int | None = None
        self._held: dict[str, Path] = {}
        self._next_look = 0.0

    def put(self, queue: str, text: str) -> None:
        """Add a message at the end of a queue."""
        write_whole(self.folder / message_name(queue), text)

    def take(self, queue: str) -> dict[str, Any] | None:
        """Return the oldest message of a queue and hold it, or None when the queue is empty."""
        mine = self._own_folder()
        if time.monotonic() >= self._next_look:
            self._next_look = time.monotonic() + LOOK_FOR_DEAD_EVERY_S
            self.recover()
        for name in sorted(os.listdir(self.folder)):  # noqa: PTH208 -- names only, polled ten times a second
            if name.partition(".")[2] != f"{queue}.msg":
                continue
            try:
                path = (self.folder / name).rename(mine / name)
            except FileNotFoundError:
                continue  # another consumer was faster
            try:
                payload = read_message(path)
            except ValueError:
                set_aside(path, self.folder / "broken")
                continue
            self._held[payload["properties"]["delivery_tag"]] = path
            return payload
        return None

    def finish(self, tag: str) -> None:
        """Forget a held message for good."""
        if path := self._held.pop(tag, None):
            path.unlink(missing_ok=True)

    def give_back(self, tag: str, *, at_end: bool = False) -> None:
        """Return a held message to its old place, or to the end of its queue so that others get their turn."""
        if path := self._held.pop(tag, None):
            queue = path.name.partition(".")[2].removesuffix(".msg")
            path.rename(self.folder / (message_name(queue) if at_end else path.name))

    def recover(self) -> int:
        """Give back the messages of consumers that died, and return how many."""
        count = 0
        for folder in (self.folder / "taken").glob("[!.]*"):
            if folder == self._mine:
                continue
            with contextlib.suppress(FileNotFoundError, BlockingIOError), _folder_lock(folder):
                for path in folder.iterdir():
                    path.rename(self.folder / path.name)
                    count += 1
                folder.rmdir()
        return count

    def close(self) -> None:
        """Give everything held back and leave."""
        for tag in list(self._held):
            self.give_back(tag)
        if self._mine is not None and self._lock is not None:
            with contextlib.suppress(OSError):
                self._mine.rmdir()
            os.close(self._lock)
        self._mine = self._lock = None

    def _own_folder(self) -> Path:
        if self._mine is None:
            name = uuid.uuid4().hex
            draft = self.folder / "taken" / f".{name}"
            draft.mkdir(parents=True)
            # Locked before it gets its name, so that nobody takes it for a dead consumer's.
            self._lock = os.open(draft, os.O_RDONLY | os.O_DIRECTORY)
            fcntl.flock(self._lock, fcntl.LOCK_EX)
            self._mine = draft.rename(draft.with_name(name))
        return self._mine


@contextlib.contextmanager
def _folder_lock(folder: Path) -> Iterator[None]:
    """Hold the lock of a consumer's folder; a living consumer raises ``BlockingIOError``."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    finally:
        os.close(descriptor)
