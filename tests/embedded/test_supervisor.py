"""The supervisor shows what programs say, starts again what ends, and leaves nothing running."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from fleet.embedded.child import Program
from fleet.embedded.supervisor import Supervisor
from tests.embedded.processes import alive_after, descendants

ROOT = Path(__file__).parent.parent.parent


def python(name: str, code: str, stop_signal: signal.Signals = signal.SIGTERM) -> Program:
    return Program(name, (sys.executable, "-u", "-c", code), stop_signal)


def supervise(*programs: Program, until: str, times: int = 1, patience_s: float = 5.0) -> list[str]:
    """Run programs until a sentence was said some times, and return everything that was said."""
    said: list[str] = []

    def hear(line: str) -> None:
        said.append(line)
        if until in line and sum(until in heard for heard in said) == times:
            supervisor.stop()

    supervisor = Supervisor(programs, folder=ROOT, environment=os.environ, say=hear, patience_s=patience_s)
    supervisor.run(ready=lambda: False, announce=lambda: None)
    return said


def test_lines_carry_the_name_of_their_program():
    said = supervise(
        python("web", "print('open'); import time; time.sleep(60)"),
        python("worker", "import time; time.sleep(0.5); print('busy'); time.sleep(60)"),
        until="busy",
    )

    assert said == ["web    | open", "worker | busy"]


def test_a_line_that_was_cut_off_is_shown_when_its_program_ends():
    said = supervise(python("web", "import sys; sys.stdout.write('half a'); sys.exit(3)"), until="ended")

    assert said == ["web | half a", "web ended with code 3; starting it again in 0.5 s."]


def test_a_program_that_keeps_failing_is_started_after_growing_pauses():
    said = supervise(python("web", "raise SystemExit(1)"), until="ended", times=3)

    assert [line.rpartition(" in ")[2] for line in said] == ["0.5 s.", "1 s.", "2 s."]


def test_a_program_that_ignores_the_request_is_killed_and_named():
    stubborn = python(
        "worker", "import signal, time; signal.signal(15, signal.SIG_IGN); print('up'); time.sleep(60)"
    )

    said = supervise(stubborn, until="up", patience_s=0.3)

    assert said[-1] == "worker did not end in time and is killed."


def test_a_program_may_finish_what_it_does_before_it_ends():
    careful = python(
        "web",
        "import time\ntry:\n    print('up'); time.sleep(60)\nexcept KeyboardInterrupt:\n    print('tidied')",
        signal.SIGINT,
    )

    said = supervise(careful, until="up")

    assert said == ["web | up", "web | tidied"]


def test_the_announcement_comes_once_when_the_service_is_ready():
    answers = iter([False, True, True, True])
    announced = []
    supervisor = Supervisor(
        [python("web", "import time\nwhile True:\n    print('tick'); time.sleep(0.05)")],
        folder=ROOT,
        environment=os.environ,
        say=lambda line: supervisor.stop() if announced and "tick" in line else None,
    )

    supervisor.run(ready=lambda: next(answers), announce=lambda: announced.append("open"))

    assert announced == ["open"]


def test_ctrl_c_ends_everything():
    before = signal.getsignal(signal.SIGINT)
    said = supervise(
        python("web", f"import os, time; os.kill({os.getpid()}, {int(signal.SIGINT)}); time.sleep(60)"),
        python("worker", "import time; time.sleep(60)"),
        until="never",
    )

    assert said == []
    assert signal.getsignal(signal.SIGINT) is before


@pytest.fixture
def supervisor_process():
    command = [sys.executable, Path(__file__).parent / "supervise.py"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True) as process:
        yield process
        process.kill()


def test_nothing_outlives_a_killed_supervisor(supervisor_process):
    assert supervisor_process.stdout
    assert sorted(supervisor_process.stdout.readline() for _ in "ab") == ["a | up\n", "b | up\n"]
    family = descendants(supervisor_process.pid)
    assert len(family) == 2

    supervisor_process.kill()

    assert alive_after(family, 10) == []
