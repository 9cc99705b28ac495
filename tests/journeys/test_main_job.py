"""From an empty database to the rider's page: import, background jobs, draft, issue; nothing in it is called by hand.

Once as the README's first command runs it (SQLite, a queue of files), once as in production (PostgreSQL, Redis).
"""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import uuid
from datetime import timedelta
from pathlib import Path
from urllib.error import URLError

import psycopg
import pytest
from django.utils import timezone

from fleet.demo.names import RIDER_LOGIN
from fleet.demo.scenario import generate
from tests.journeys.visitor import Visitor

ROOT = Path(__file__).parents[2]
PASSWORD = "a journey of its own"
ADMIN = "postgresql://postgres@127.0.0.1/postgres"
PATIENCE_S = 180
KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8


def wait_for(find, what):
    """Ask again and again until there is an answer."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        try:
            if found := find():
                return found
        except (URLError, ConnectionError, TimeoutError):
            pass
        time.sleep(0.5)
    raise AssertionError(f"waited {PATIENCE_S} s for {what}")


@pytest.fixture(
    params=[
        "embedded",
        pytest.param("production", marks=[pytest.mark.postgres, pytest.mark.redis]),
    ]
)
def environment(request, tmp_path):
    """The variables of an installation with an empty database."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("FLEET_")}
    clean |= {"FLEET_DATA_DIR": str(tmp_path / "data"), "FLEET_LOG_LEVEL": "WARNING"}
    if request.param == "embedded":
        yield clean
        return
    database = f"journey_{uuid.uuid4().hex[:8]}"
    with psycopg.connect(ADMIN, autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {database}")
    yield clean | {
        "FLEET_DATABASE_URL": f"postgresql://postgres@127.0.0.1/{database}",
        "FLEET_REDIS_URL": os.environ["FLEET_TEST_REDIS_URL"],
    }
    with psycopg.connect(ADMIN, autocommit=True) as admin:
        admin.execute(f"DROP DATABASE {database} WITH (FORCE)")


@pytest.fixture
def manage(environment):
    """Run a command of the installation and give back what it printed."""

    def run(*words):
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    return run


@pytest.fixture
def address(environment, manage):
    """A running service on an empty database: web, worker and timetable."""
    manage("migrate", "--verbosity", "0")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    service = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
    )
    address = f"http://127.0.0.1:{port}"
    wait_for(lambda: Visitor(address).read("/health/live"), "the service")
    yield address
    service.send_signal(signal.SIGINT)
    assert service.wait(timeout=40) == 0


@pytest.fixture
def imported(manage, address, tmp_path):
    """An exchange folder of a small invented season, brought in while the service runs."""
    now = timezone.now()
    generate(tmp_path / "season", today=now.date(), at=now, attendance=0.1)
    manage("import", str(tmp_path / "season"))
    manage(
        "shell",
        "--verbosity",
        "0",
        "--command",
        "from fleet.accounts.models import Person\n"
        f"for person in Person.objects.all(): person.set_password({PASSWORD!r}); person.save()",
    )
    return now.date() + timedelta(days=1)


def test_the_main_job_from_an_empty_database_to_the_riders_page(address, manage, imported):
    director = Visitor(address).sign_in("director@example.org", PASSWORD)
    rider = Visitor(address).sign_in(RIDER_LOGIN[0], PASSWORD)

    flags = wait_for(lambda: director.ask("/api/v1/flags")["results"], "flags of tires near their end")
    assert {flag["state"] for flag in flags} <= {"plan a change", "last day", "stand down"}

    (day,) = director.ask(f"/api/v1/days?since={imported}")["results"]
    own = wait_for(
        lambda: rider.ask(f"/api/v1/days/{day['id']}/own-lines"), "the rider's own start pressures"
    )
    assert {line["axle"] for line in own} == {"front", "rear"}

    bulletin = director.tell(f"/api/v1/days/{day['id']}/bulletins")
    assert bulletin["number"] == 1

    garage = rider.read("/garage/")
    stopped = garage.count("this tire should not go out")
    first = {line["axle"]: line for line in reversed(own)}  # those of later parts of the day come behind
    figures = [f"{line['shown_kpa'] / KPA_PER_PSI:.1f}" for line in first.values()]
    assert sum(f'class="figure">{figure}<' in garage for figure in figures) == 2 - stopped
    assert stopped < 2
    board = Visitor(address).read(f"/b/{day['public_code']}/")
    assert "Bulletin 1" in board
    assert "Robin Vale" not in board

    listed = json.loads(manage("life", "--json"))
    assert {flag["label_code"] for flag in flags} <= {row["tire"] for row in listed}
