"""Stopped as the compose file stops them, web and worker finish what they have begun: nothing half done, nothing lost."""

import os
import re
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest
from psycopg import sql

from fleet.celery import app
from tests.embedded.test_compose import ROOT, SERVICES, environment_of, wait_for

pytestmark = pytest.mark.postgres
HEADERS = {"Host": "tires.example.org", "X-Forwarded-Proto": "https"}
JOB = "fleet.inventory.tasks.expire_reservations"


@pytest.fixture(scope="module")
def database():
    """A prepared database of this test's own."""
    server, name = os.environ["FLEET_DATABASE_URL"], f"stopping_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        url = urlsplit(server)._replace(path=f"/{name}").geturl()
        given = {one: value for one, value in os.environ.items() if not one.startswith("FLEET_")}
        subprocess.run(
            [sys.executable, "manage.py", "migrate", "-v0"],
            cwd=ROOT,
            env=given | {"FLEET_DATABASE_URL": url},
            check=True,
        )
        yield url
        connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@pytest.fixture
def start(tmp_path, database):
    """Start a service's command natively; it is ended for sure when the test is over."""
    started = []

    def run(service, *, port=8000, **others):
        log = tmp_path / f"{service}.log"
        with log.open("w") as file:
            process = subprocess.Popen(
                [word.replace("8000", str(port)) for word in SERVICES[service]["command"]],
                cwd=ROOT,
                env=environment_of(service, tmp_path, FLEET_DATABASE_URL=database, **others),
                stdout=file,
                stderr=subprocess.STDOUT,
            )
        started.append(process)
        return process, log

    yield run
    for process in started:
        process.kill()
        process.wait()


def wait_for_lock(connection, table):
    """Wait until somebody waits for the table that is held."""
    asked = "SELECT count(*) FROM pg_locks WHERE NOT granted AND relation = %s::regclass"
    for _ in range(600):
        if connection.execute(asked, [table]).fetchone()[0]:
            return
        time.sleep(0.1)
    raise AssertionError(f"Nobody waits for {table}.")


def stop_signal(service):
    return signal.Signals[SERVICES[service].get("stop_signal", "SIGTERM")]


def test_the_web_process_finishes_the_answer_it_has_begun(start, database, free_port, tmp_path):
    gather = [sys.executable, "manage.py", "collectstatic", "--no-input", "-v0"]
    subprocess.run(
        gather, cwd=ROOT, env=environment_of("web", tmp_path, FLEET_DATABASE_URL=database), check=True
    )
    process, log = start("web", port=free_port)
    wait_for(log, "Serving on")
    answers = []

    def ask():
        request = urllib.request.Request(f"http://127.0.0.1:{free_port}/b/nothing-here/", headers=HEADERS)
        with pytest.raises(urllib.error.HTTPError) as answer:
            urllib.request.urlopen(request, timeout=120)
        answers.append((answer.value.code, b"</html>" in answer.value.read()))
        answer.value.close()

    asking = threading.Thread(target=ask)
    with psycopg.connect(database) as holder, psycopg.connect(database, autocommit=True) as watch:
        holder.execute("LOCK TABLE events_day IN ACCESS EXCLUSIVE MODE")
        asking.start()
        wait_for_lock(watch, "events_day")
        process.send_signal(stop_signal("web"))
        assert answers == []
    asking.join(timeout=120)

    assert answers == [(404, True)]
    assert process.wait(timeout=60) == 0


@pytest.mark.redis
def test_a_worker_finishes_the_job_it_has_begun(start, database):
    redis_url = urlsplit(os.environ["FLEET_TEST_REDIS_URL"])._replace(path="/12").geturl()
    process, log = start("worker", FLEET_REDIS_URL=redis_url, FLEET_LOG_JSON="1")
    wait_for(log, r"worker@\S+ ready\.")
    headers = {"request_id": "request-of-this-test"}
    with psycopg.connect(database) as holder, psycopg.connect(database, autocommit=True) as watch:
        holder.execute("LOCK TABLE inventory_reservation IN ACCESS EXCLUSIVE MODE")
        with app.connection_for_write(redis_url) as connection:
            app.send_task(JOB, connection=connection, queue="work", headers=headers)
        wait_for_lock(watch, "inventory_reservation")
        process.send_signal(stop_signal("worker"))
        wait_for(log, "Warm shutdown")

    assert process.wait(timeout=120) == 0
    written = Path(log).read_text()
    [line] = [one for one in written.splitlines() if '"logger": "fleet.tasks"' in one]
    assert '"outcome": "succeeded"' in line
    assert '"request_id": "request-of-this-test"' in line
    assert re.search(r'"task_id": "[0-9a-f-]{36}"', line)
    with psycopg.connect(database) as connection:
        states = connection.execute("SELECT name, failures FROM operating_jobstate").fetchall()
    assert states == [(JOB, 0)]
