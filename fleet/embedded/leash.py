"""Run a command that ends with its parent: ``python -m fleet.embedded.leash SIGNAL PARENT COMMAND...``.

The kernel sends SIGNAL to the command when the parent process dies, also by a kill -9. SIGINT is set back to its
default first, because a shell that starts programs in the background lets them ignore it.
"""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def main(arguments: list[str]) -> None:
    """Replace this process by the command, tied to the life of its parent."""
    stop_signal, parent, command = int(arguments[0]), int(arguments[1]), arguments[2:]
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, stop_signal, 0, 0, 0)
    if os.getppid() != parent:
        return  # the parent died before it could be watched
    os.execv(command[0], command)  # noqa: S606 -- the command comes from the supervisor, and no shell is wanted


if __name__ == "__main__":
    main(sys.argv[1:])
