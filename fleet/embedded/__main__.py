"""Supervise the programs of a plan: ``python -m fleet.embedded PLAN``, where ``serve`` writes the plan.

A process of its own that imports nothing but the standard library, so that what only watches takes little memory.
"""

import os
import sys
from functools import partial

from fleet.embedded.plan import Plan
from fleet.embedded.supervisor import Supervisor, is_answering


def say(line: str) -> None:
    """Print a line at once, also when the output is not a terminal."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(text: str) -> None:
    """Run the programs of a plan until Ctrl-C."""
    plan = Plan.from_text(text)
    supervisor = Supervisor(plan.programs, folder=plan.folder, environment=os.environ, say=say)
    supervisor.run(
        ready=partial(is_answering, plan.host, plan.port),
        announce=partial(say, plan.announcement),
    )


if __name__ == "__main__":
    main(sys.argv[1])
