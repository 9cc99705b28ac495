"""Supervise two programs that sleep, until this process is killed."""

import os
import sys
from pathlib import Path

from fleet.embedded.child import Program
from fleet.embedded.supervisor import Supervisor

sleeper = (sys.executable, "-c", "import time; print('up', flush=True); time.sleep(60)")
supervisor = Supervisor(
    [Program("a", sleeper), Program("b", sleeper)],
    folder=Path.cwd(),
    environment=os.environ,
    say=lambda line: print(line, flush=True),  # noqa: T201 -- read by the test
)
supervisor.run(ready=lambda: False, announce=lambda: None)
