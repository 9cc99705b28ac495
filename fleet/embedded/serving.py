"""Run the whole service on one machine: which programs that takes, and what has to be true before they start."""

import fcntl
import os
import signal
import socket
import sys
from pathlib import Path
from typing import NoReturn

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor

from fleet.embedded.child import Program
from fleet.embedded.plan import Plan

WEB_THREADS = 8
LARGEST = "--max-request-body-size=33554432"


class CannotServe(Exception):  # noqa: N818 -- a refusal, named as a state like those of fleet.errors
    """Something that has to be true before the service starts is not."""


def serve(*, host: str, port: int, announcement: str, quiet: bool = True) -> NoReturn:
    """Turn this process into the supervisor of web, worker and timetable, which runs until Ctrl-C.

    ``announcement`` is printed once the web process answers, with the address to open in the place of ``{address}``.
    What cannot be served raises ``CannotServe`` with a sentence before anything starts.
    """
    refuse_bad_address(host, port)
    refuse_unprepared_database(connections[DEFAULT_DB_ALIAS])
    level = os.environ.get("FLEET_LOG_LEVEL") or ("WARNING" if quiet else "INFO")
    plan = Plan(
        programs=programs(host, port, level=level),
        folder=settings.BASE_DIR,
        host=reachable(host),
        port=port,
        announcement=announcement.replace("{address}", address(host, port)),
    )
    os.set_inheritable(hold(settings.DATA_DIR), True)
    connections.close_all()
    os.chdir(settings.BASE_DIR)
    supervise = (sys.executable, "-m", "fleet.embedded", plan.to_text())
    os.execve(sys.executable, supervise, environment(level, quiet=quiet))  # noqa: S606 -- no shell is wanted


def programs(host: str, port: int, *, level: str) -> tuple[Program, ...]:
    """Return the three programs of the one-machine run: the same worker and timetable as in production."""
    celery = (sys.executable, "-m", "celery", "--quiet", "-A", "fleet.celery")
    listen = f"--listen={bracketed(host)}:{port}"
    worker = ("worker", "-P", "prefork", "-c", "1", "-Q", "work,timetable", "-l", level)
    alone = ("--without-gossip", "--without-mingle", "--without-heartbeat")
    web = (
        sys.executable,
        "-m",
        "waitress",
        listen,
        f"--threads={WEB_THREADS}",
        LARGEST,
        "fleet.wsgi:application",
    )
    return (
        # waitress answers what it has begun when it gets SIGINT, and drops it at SIGTERM.
        Program("web", web, signal.SIGINT),
        Program("worker", (*celery, *worker, *alone)),
        Program("timetable", (*celery, "beat", "-S", "celery.beat:Scheduler", "-l", level)),
    )


def environment(level: str, *, quiet: bool) -> dict[str, str]:
    """Return the environment of the programs: this one's, with their log level."""
    result = {**os.environ, "FLEET_LOG_LEVEL": level, "PYTHONUNBUFFERED": "1"}
    # Several processes share the cores: threads of the linear algebra would only wait for each other.
    result.setdefault("OPENBLAS_NUM_THREADS", "1")
    if quiet:
        # A container has no other user, and a paragraph at every start hides what matters.
        result["PYTHONWARNINGS"] = "ignore:You're running the worker with superuser privileges"
    return result


def refuse_bad_address(host: str, port: int) -> None:
    """Raise ``CannotServe`` when the service could not listen at the address."""
    if not 1 <= port <= 65535:  # noqa: PLR2004 -- the range of TCP ports
        raise CannotServe(f"Port {port} does not exist: choose one from 1 to 65535, for example --port 8000.")
    try:
        family, kind, protocol, _name, where = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(where)
            probe.listen()
    except socket.gaierror as error:
        raise CannotServe(
            f"There is no address {host!r} on this machine: use --host 127.0.0.1 for this machine only, "
            "or 0.0.0.0 for the whole network."
        ) from error
    except OSError as error:
        raise CannotServe(
            f"Cannot listen on {host} port {port} ({error.strerror}): "
            "choose another port with --port, for example --port 8001."
        ) from error


def refuse_unprepared_database(connection: BaseDatabaseWrapper) -> None:
    """Raise ``CannotServe`` when the tables are missing or older than the program."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise CannotServe("The database is not prepared for this version: run manage.py migrate first.")


def hold(folder: Path) -> int:
    """Return the lock of a data folder, held until it is closed or this process ends; a held folder is refused."""
    lock = os.open(folder / "serve.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        os.close(lock)
        raise CannotServe(
            "This data folder is being served already: end the other run first, or set FLEET_DATA_DIR to "
            "another folder."
        ) from error
    return lock


def reachable(host: str) -> str:
    """Return the host under which a listener on ``host`` is reached from this machine."""
    return {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104 -- compared, not bound


def bracketed(host: str) -> str:
    """Return a host as it stands before a port: IPv6 in brackets."""
    return f"[{host}]" if ":" in host else host


def address(host: str, port: int) -> str:
    """Return the address to open in a browser on this machine."""
    return f"http://{bracketed(reachable(host))}:{port}/"
