"""Keep the processes of the one-machine run alive, show what they say, and end them together."""

import selectors
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

from fleet.embedded.child import Child, Program

LOOK_EVERY_S = 0.2
PATIENCE_S = 15.0


class Supervisor:
    """Runs programs until it is told to stop; a program that ends earlier is started again."""

    def __init__(
        self,
        programs: Sequence[Program],
        *,
        folder: Path,
        environment: Mapping[str, str],
        say: Callable[[str], None],
        patience_s: float = PATIENCE_S,
    ) -> None:
        self.children = [Child(program, folder, environment) for program in programs]
        self.say = say
        self.patience_s = patience_s
        self._width = max(len(program.name) for program in programs)
        self._selector = selectors.DefaultSelector()
        self._asked = 0

    def run(self, *, ready: Callable[[], bool], announce: Callable[[], None]) -> None:
        """Run everything until a stop is asked for; call ``announce`` once when ``ready`` first answers yes."""
        announced = False
        with self._listening():
            try:
                while not self._asked:
                    self._start_what_is_down()
                    self._show_output()
                    self._bury_what_ended()
                    if not announced and not self._asked and ready():
                        announced = True
                        announce()
            finally:
                self._end_all()

    def stop(self) -> None:
        """Ask for the end; asked twice, nobody is waited for any longer."""
        self._asked += 1

    @contextmanager
    def _listening(self) -> Iterator[None]:
        """Let Ctrl-C, a plain kill and a closed terminal ask for the end."""

        def asked(_number: int, _frame: FrameType | None) -> None:
            self.stop()

        numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
        main = threading.current_thread() is threading.main_thread()
        before = {number: signal.signal(number, asked) for number in numbers} if main else {}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _start_what_is_down(self) -> None:
        for child in self.children:
            if child.is_due():
                child.start()
                self._selector.register(child.output, selectors.EVENT_READ, child)

    def _show_output(self) -> None:
        for key, _events in self._selector.select(LOOK_EVERY_S):
            self._show(key.data)

    def _show(self, child: Child) -> None:
        for line in child.lines():
            self.say(f"{child.program.name:<{self._width}} | {line}")

    def _bury_what_ended(self) -> None:
        for child in self.children:
            code = child.ended()
            if code is not None:
                pause = self._bury(child)
                self.say(f"{child.program.name} ended with code {code}; starting it again in {pause:g} s.")

    def _bury(self, child: Child) -> float:
        child.kill_group()
        self._show(child)
        self._selector.unregister(child.output)
        return child.bury()

    def _end_all(self) -> None:
        asked_before, deadline = self._asked, time.monotonic() + self.patience_s
        for child in self.children:
            child.ask_to_end()
        while self._bury_all(lambda child: child.ended() is not None):
            if time.monotonic() > deadline or self._asked > max(asked_before, 1):
                break
            self._show_output()
        for child in self._bury_all(lambda _child: False):
            self.say(f"{child.program.name} did not end in time and is killed.")
        self._bury_all(lambda _child: True)
        self._selector.close()

    def _bury_all(self, chosen: Callable[[Child], bool]) -> list[Child]:
        """Bury the chosen children and return those that still run."""
        for child in self.children:
            if child.process and chosen(child):
                self._bury(child)
        return [child for child in self.children if child.process]


def is_answering(host: str, port: int) -> bool:
    """Whether something accepts connections at the address."""
    with suppress(OSError), socket.create_connection((host, port), timeout=0.5):
        return True
    return False
