"""What the kernel says about processes."""

import contextlib
import time
from collections.abc import Iterable
from pathlib import Path


def descendants(pid: int) -> set[int]:
    """Return every process below one."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            parents[int(stat.parent.name)] = int(stat.read_text().rpartition(")")[2].split()[1])
    found: set[int] = set()
    fresh = {pid}
    while fresh:
        fresh = {child for child, parent in parents.items() if parent in fresh}
        found |= fresh
    return found


def is_alive(pid: int) -> bool:
    """Whether a process runs; one that ended and was not collected does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def words_of(pid: int) -> list[str]:
    """Return the command line of a process."""
    return Path(f"/proc/{pid}/cmdline").read_text().split("\0")


def alive_after(pids: Iterable[int], seconds: float) -> list[int]:
    """Return which of the processes still run when they had some seconds to end."""
    deadline = time.monotonic() + seconds
    while (left := [pid for pid in pids if is_alive(pid)]) and time.monotonic() < deadline:
        time.sleep(0.05)
    return left
