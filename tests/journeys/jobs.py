"""A broker and workers of a test's own, as production runs them, that can be killed and started again."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import redis
from django.db import connection

from fleet.celery import app

ROOT = Path(__file__).parents[2]
PATIENCE_S = 90


def wait_until(is_so, what):
    """Ask again and again until something is so."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        if found := is_so():
            return found
        time.sleep(0.1)
    raise AssertionError(f"waited {PATIENCE_S} s until {what}")


class Jobs:
    """One Redis server on a free port, and workers on a database."""

    def __init__(self, folder: Path, database_url: str) -> None:
        self.folder, self.database_url = folder, database_url
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.broker_url = f"redis://127.0.0.1:{self.port}/0"
        self.mailbox = folder / "mails"
        self.broker: subprocess.Popen[bytes] | None = None
        self.workers: list[subprocess.Popen[bytes]] = []

    def start_broker(self) -> None:
        """Start an empty broker and wait until it answers."""
        program = shutil.which("redis-server")
        assert program, "redis-server is needed beside the Redis that FLEET_TEST_REDIS_URL names"
        words = [
            program,
            "--port",
            str(self.port),
            "--bind",
            "127.0.0.1",
            "--save",
            "",
            "--dir",
            str(self.folder),
        ]
        self.broker = subprocess.Popen(words, stdout=subprocess.DEVNULL)
        wait_until(self._answers, "the broker answers")

    def kill_broker(self) -> None:
        """Kill the broker with all its messages."""
        if self.broker:
            self.broker.kill()
            self.broker.wait()

    def empty_broker(self) -> None:
        """Lose every message that waits."""
        with redis.Redis(port=self.port) as broker:
            broker.flushall()

    def start_workers(self, count: int = 2) -> None:
        """Start workers, each with one process for jobs, with the command of the compose file."""
        environment = {name: value for name, value in os.environ.items() if not name.startswith("FLEET_")} | {
            "FLEET_DATABASE_URL": self.database_url,
            "FLEET_REDIS_URL": self.broker_url,
            "FLEET_EMAIL_BACKEND": "tests.journeys.mailbox.Mailbox",
            "MAILBOX": str(self.mailbox),
            "OPENBLAS_NUM_THREADS": "1",
            "PYTHONPATH": str(ROOT),
        }
        for number in range(1, count + 1):
            words = [
                sys.executable, "-m", "celery", "--app=fleet.celery", "worker", "--pool=prefork", "--concurrency=1",
                "--queues=work,timetable", f"--hostname=worker{number}@localhost", "--loglevel=WARNING",
                "--without-gossip", "--without-mingle", "--without-heartbeat",
            ]  # fmt: skip
            log = (self.folder / f"worker{number}.log").open("ab")
            self.workers.append(
                subprocess.Popen(
                    words, cwd=ROOT, env=environment, stdout=log, stderr=log, start_new_session=True
                )
            )
            log.close()

    def kill_workers(self) -> None:
        """Kill every worker and its children at once."""
        for worker in self.workers:
            os.killpg(worker.pid, signal.SIGKILL)
            worker.wait()
        self.workers = []

    def doing(self) -> list[int]:
        """Return the processes in which jobs are done."""
        parents = ",".join(str(worker.pid) for worker in self.workers)
        found = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", parents], capture_output=True, text=True, check=False
        )
        return [int(pid) for pid in found.stdout.split()]

    def are_alive(self) -> bool:
        """Return whether both workers run."""
        return len(self.workers) == 2 and all(worker.poll() is None for worker in self.workers)

    def _answers(self) -> bool:
        try:
            with redis.Redis(port=self.port) as broker:
                return bool(broker.ping())
        except redis.ConnectionError:
            return False


def database_of_tests() -> str:
    """Return the address of the database the test works on."""
    name = connection.settings_dict["NAME"]
    return urlsplit(os.environ["FLEET_DATABASE_URL"])._replace(path=f"/{name}").geturl()


@contextmanager
def own_jobs(folder: Path, database_url: str) -> Iterator[Jobs]:
    """Offer a broker, to which messages of the test go too, and end everything afterwards."""
    found = Jobs(folder, database_url)
    found.start_broker()
    names = ("broker_url", "broker_transport_options")
    before = {name: getattr(app.conf, name) for name in names}
    app.conf.update(
        broker_url=found.broker_url, broker_transport_options={"socket_connect_timeout": 5, "max_retries": 0}
    )
    app._after_fork()  # connections made for an earlier test's broker are left
    try:
        yield found
    finally:
        found.kill_workers()
        found.kill_broker()
        app.conf.update(before)
        app._after_fork()


class HeldTable:
    """A table nobody else writes to, or reads, while it is held, so that a job is caught in the middle of its transaction."""

    def __init__(self, database_url: str, table: str, *, to_readers: bool = False) -> None:
        self.table = table
        self.own = psycopg.connect(database_url)
        self.own.execute(f"LOCK TABLE {table} IN {'ACCESS EXCLUSIVE' if to_readers else 'EXCLUSIVE'} MODE")
        self.others = psycopg.connect(database_url, autocommit=True)

    def wait_for_somebody(self) -> None:
        """Wait until somebody waits for the table."""
        waiting = "SELECT 1 FROM pg_locks WHERE NOT granted AND relation = %s::regclass"
        wait_until(lambda: self.others.execute(waiting, [self.table]).fetchone(), f"a job wants {self.table}")

    def let_go(self) -> None:
        """Let the others at it, where the server did not yet."""
        self.own.close()
        self.others.close()
