"""Start, watch and end one of the supervised processes."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 30.0
STEADY_AFTER_S = 60.0


@dataclass(frozen=True)
class Program:
    """What to run under which name, and the signal that asks it to end."""

    name: str
    command: tuple[str, ...]
    stop_signal: signal.Signals = signal.SIGTERM


@dataclass
class Child:
    """One program in a process group of its own, started again with growing pauses when it ends by itself."""

    program: Program
    folder: Path
    environment: Mapping[str, str]
    pause_s: float = FIRST_PAUSE_S
    process: subprocess.Popen[bytes] | None = None
    _started: float = 0.0
    _due: float = 0.0
    _rest: bytes = field(default=b"", repr=False)

    @property
    def output(self) -> IO[bytes]:
        """The pipe the running program writes to."""
        if self.process is None or self.process.stdout is None:
            raise RuntimeError(f"{self.program.name} is not running.")
        return self.process.stdout

    def start(self) -> None:
        """Start the program, tied to the life of this process."""
        leash = (
            sys.executable,
            "-m",
            "fleet.embedded.leash",
            str(int(self.program.stop_signal)),
            str(os.getpid()),
        )
        self._started = time.monotonic()
        self.process = subprocess.Popen(  # noqa: S603 -- fixed commands, no shell
            (*leash, *self.program.command),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            cwd=self.folder,
            env=dict(self.environment),
            process_group=0,
        )
        os.set_blocking(self.output.fileno(), False)

    def lines(self) -> Iterator[str]:
        """Yield the whole lines written since the last call, and the last one also when it is cut off."""
        with contextlib.suppress(BlockingIOError):
            while chunk := os.read(self.output.fileno(), 65536):
                *whole, self._rest = (self._rest + chunk).split(b"\n")
                for line in whole:
                    yield line.decode(errors="replace").rstrip()
            if self._rest:
                yield self._rest.decode(errors="replace")
                self._rest = b""

    def ended(self) -> int | None:
        """Return the exit code when the program ended since it was started, else None."""
        return self.process.poll() if self.process else None

    def bury(self) -> float:
        """Clear away an ended program; return the pause in seconds before it is due again."""
        self.output.close()
        self.process = None
        if time.monotonic() - self._started >= STEADY_AFTER_S:
            self.pause_s = FIRST_PAUSE_S
        pause, self.pause_s = self.pause_s, min(2 * self.pause_s, LONGEST_PAUSE_S)
        self._due = time.monotonic() + pause
        return pause

    def is_due(self) -> bool:
        """Whether the program is down and its pause is over."""
        return self.process is None and time.monotonic() >= self._due

    def ask_to_end(self) -> None:
        """Send the program its stop signal."""
        if self.process:
            self.process.send_signal(self.program.stop_signal)

    def kill_group(self) -> None:
        """Kill the program and every process it started."""
        if self.process:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
