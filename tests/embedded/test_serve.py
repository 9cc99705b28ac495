"""``manage.py serve`` runs web, worker and timetable, brings back what dies, and leaves nothing behind."""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import ConnectionHandler

from fleet.embedded.plan import Plan
from fleet.embedded.serving import CannotServe, address, hold, programs, refuse_unprepared_database
from tests.embedded.processes import alive_after, descendants, words_of

ROOT = Path(__file__).parent.parent.parent
PATIENCE_S = 90


class Service:
    """A running ``manage.py serve`` whose lines can be waited for."""

    def __init__(self, folder: Path, port: int) -> None:
        self.environment = {
            name: value
            for name, value in os.environ.items()
            if name not in {"FLEET_DATABASE_URL", "FLEET_REDIS_URL"}
        } | {"FLEET_DATA_DIR": str(folder)}
        self.folder, self.port = folder, port
        self.said: list[str] = []

    def manage(self, *words: str) -> None:
        subprocess.run([sys.executable, "manage.py", *words], cwd=ROOT, env=self.environment, check=True)

    def start(self) -> None:
        command = [sys.executable, "manage.py", "serve", "--port", str(self.port), "-v", "2"]
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout
        self.said.extend(self.process.stdout)

    def wait_for(self, pattern: str, *, times: int = 1) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            if sum(bool(re.search(pattern, line)) for line in list(self.said)) >= times:
                return
            time.sleep(0.05)
        raise AssertionError(f"{pattern!r} was not said {times} times in:\n{''.join(self.said)}")

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self._reader.join()
        assert self.process.stdout
        self.process.stdout.close()


def status_of(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=PATIENCE_S) as response:
            return response.status
    except urllib.error.HTTPError as error:
        with error:
            return error.code


@pytest.fixture
def service(tmp_path: Path, free_port: int):
    service = Service(tmp_path, free_port)
    service.manage("migrate", "--verbosity", "0")
    service.start()
    yield service
    service.end()


def test_all_three_answer_come_back_and_end_without_a_trace(service):
    service.wait_for(r"^worker +\| .*ready\.")
    service.wait_for(r"^timetable \| .*beat: Starting")
    service.wait_for(rf"^Open http://127\.0\.0\.1:{service.port}/ ")
    assert status_of(f"http://127.0.0.1:{service.port}/health/live") == 200
    with pytest.raises(CannotServe, match="served already"):
        hold(service.folder)
    family = descendants(service.process.pid)
    worker = min(pid for pid in family if "worker" in words_of(pid))
    pool = descendants(worker)
    assert pool

    os.kill(worker, signal.SIGKILL)

    service.wait_for(r"^worker ended with code -9; starting it again")
    service.wait_for(r"^worker +\| .*ready\.", times=2)
    assert alive_after(pool, 0) == []
    family = descendants(service.process.pid)
    assert len(family) >= 4

    service.process.send_signal(signal.SIGINT)

    assert service.process.wait(PATIENCE_S) == 0
    assert alive_after(family, 0) == []


def test_a_busy_port_is_refused_before_anything_starts(free_port):
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", free_port))
        holder.listen()

        with pytest.raises(
            CommandError, match=rf"Cannot listen on 127\.0\.0\.1 port {free_port} .*--port 8001"
        ):
            call_command("serve", port=free_port)


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_port_that_does_not_exist_is_refused(port):
    with pytest.raises(CommandError, match="choose one from 1 to 65535"):
        call_command("serve", port=port)


def test_an_unknown_host_is_refused():
    with pytest.raises(CommandError, match=r"There is no address 'nowhere\.invalid' on this machine"):
        call_command("serve", host="nowhere.invalid")


def test_a_database_without_tables_is_refused(django_db_blocker):
    settings = {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}
    connection = ConnectionHandler({"default": settings})["default"]

    with django_db_blocker.unblock(), pytest.raises(CannotServe, match=r"run manage\.py migrate first"):
        refuse_unprepared_database(connection)

    connection.close()


def test_a_data_folder_is_served_once(tmp_path):
    lock = hold(tmp_path)

    with pytest.raises(CannotServe, match="served already"):
        hold(tmp_path)

    os.close(lock)
    os.close(hold(tmp_path))


def test_a_plan_arrives_as_it_was_made():
    plan = Plan(
        programs=programs("::", 8000, level="INFO"),
        folder=ROOT,
        host="::1",
        port=8000,
        announcement='Fitter: "Fen"\nOpen http://[::1]:8000/',
    )

    assert Plan.from_text(plan.to_text()) == plan


@pytest.mark.parametrize(
    ("host", "expected"),
    [
        ("127.0.0.1", "http://127.0.0.1:8000/"),
        ("0.0.0.0", "http://127.0.0.1:8000/"),  # noqa: S104 -- compared, not bound
        ("::", "http://[::1]:8000/"),
        ("trailer.example", "http://trailer.example:8000/"),
    ],
)
def test_the_address_told_can_be_opened_on_this_machine(host, expected):
    assert address(host, 8000) == expected
