"""The compose file follows its published schema, and what it would run is run here without containers.

Schema: the Compose Specification as JSON schema, as packaged by check-jsonschema (``vendor.compose-spec``).
"""

import contextlib
import os
import re
import shlex
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import yaml

from fleet.celery import app
from fleet.checks import VARIABLES

ROOT = Path(__file__).parent.parent.parent
BIN = Path(sys.executable).parent
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = ["migrate", "web", "worker", "timetable"]
CHOICES = {
    "FLEET_ALLOWED_HOSTS": "tires.example.org",
    "FLEET_TRUSTED_ORIGINS": "https://tires.example.org",
    "FLEET_SECRET_KEY": "k1lO-9vTq_2mWzR7xYb4NcJ8sHdF5gPaE3uViKoLtQwZrXyMn6",
    "FLEET_DATABASE_PASSWORD": "letters123",
}


def filled(text: str) -> str:
    """Return a text of the file with the deployment's choices in the place of ${...}."""
    return re.sub(r"\$\{(\w+):\?[^}]*\}", lambda found: CHOICES[found[1]], text).replace("$$", "$")


def environment_of(service: str, folder: Path, **others: str) -> dict[str, str]:
    own = {name: value for name, value in os.environ.items() if not name.startswith("FLEET_")}
    given = {name: filled(value) for name, value in SERVICES[service]["environment"].items()}
    return own | given | {"FLEET_DATA_DIR": str(folder), "PATH": f"{BIN}:{os.environ['PATH']}"} | others


def health_words(service: str) -> list[str]:
    """Return a health check as words a shell would run here."""
    kind, *words = [filled(word) for word in SERVICES[service]["healthcheck"]["test"]]
    return ["sh", "-c", *words] if kind == "CMD-SHELL" else words


@pytest.fixture
def redis_url() -> str:
    """A database of the test server that no other test's worker listens to."""
    return urlsplit(os.environ["FLEET_TEST_REDIS_URL"])._replace(path="/13").geturl()


@pytest.fixture
def run_service(tmp_path):
    """Start a service's command natively with its log in a file; all of them end with the test."""
    with contextlib.ExitStack() as stack:

        def start(service: str, *, port: int = 8000, **others: str) -> Path:
            log = tmp_path / f"{service}.log"
            words = [word.replace("8000", str(port)) for word in SERVICES[service]["command"]]
            process = subprocess.Popen(
                words,
                cwd=ROOT,
                env=environment_of(service, tmp_path, **others),
                stdout=stack.enter_context(log.open("w")),
                stderr=subprocess.STDOUT,
            )
            stack.callback(process.wait)
            stack.callback(process.terminate)
            return log

        yield start


def wait_for(log: Path, pattern: str, seconds: float = 90) -> None:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if re.search(pattern, log.read_text()):
            return
        time.sleep(0.1)
    raise AssertionError(f"{pattern!r} does not stand in:\n{log.read_text()}")


def check_health(
    service: str, folder: Path, port: int = 8000, **others: str
) -> subprocess.CompletedProcess[str]:
    """Return a health check's result; as a container does, it is asked again when the first answer is late."""
    words = [word.replace("8000", str(port)) for word in health_words(service)]
    environment = environment_of(service, folder, **others)
    for _ in range(SERVICES[service]["healthcheck"]["retries"]):
        result = subprocess.run(words, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
        if result.returncode == 0:
            break
    return result


def test_the_file_follows_the_published_schema():
    result = subprocess.run(
        [BIN / "check-jsonschema", "--builtin-schema", "vendor.compose-spec", "docker-compose.yml"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert result.returncode == 0, result.stdout


def test_every_service_has_a_restart_rule():
    assert all(service["restart"] in {"unless-stopped", "on-failure:5"} for service in SERVICES.values())


def test_every_lasting_service_tells_its_health():
    assert {name for name, service in SERVICES.items() if "healthcheck" not in service} == {"migrate"}


def test_what_must_last_lies_in_volumes():
    kept = {volume.split(":")[0] for service in SERVICES.values() for volume in service.get("volumes", [])}

    assert kept == set(COMPOSE["volumes"]) == {"database", "queue", "photos"}


def test_only_the_proxy_on_the_machine_reaches_the_service():
    ports = [port for service in SERVICES.values() for port in service.get("ports", [])]

    assert ports == ["127.0.0.1:8000:8000"]


@pytest.mark.parametrize("name", OURS)
def test_settings_given_to_a_service_exist(name):
    ours = {variable for variable in SERVICES[name]["environment"] if variable.startswith("FLEET_")}

    assert ours <= VARIABLES


@pytest.mark.parametrize("name", OURS)
def test_a_service_waits_for_what_it_needs(name):
    waits_for = SERVICES[name]["depends_on"]

    expected = {"database"} if name == "migrate" else {"database", "queue", "migrate"}
    assert set(waits_for) == expected


def test_the_image_copies_everything_it_runs():
    ignored = (ROOT / ".dockerignore").read_text().split()
    dockerfile = SERVICES["web"]["build"]["dockerfile_inline"]

    assert "COPY . ." in dockerfile
    assert not {"fleet", "api", "manage.py", "pyproject.toml", "README.md"} & set(ignored)


def test_static_files_are_gathered_as_the_image_does_it(tmp_path):
    [line] = [
        line for line in SERVICES["web"]["build"]["dockerfile_inline"].splitlines() if "collectstatic" in line
    ]
    *settings, _python, script, command, option = shlex.split(line.removeprefix("RUN "))
    own = {name: value for name, value in os.environ.items() if not name.startswith("FLEET_")}
    own |= dict(setting.split("=", 1) for setting in settings) | {"FLEET_DATA_DIR": str(tmp_path)}

    subprocess.run([sys.executable, script, command, option, "-v0"], cwd=ROOT, env=own, check=True)

    assert (tmp_path / "static" / "staticfiles.json").exists()


@pytest.mark.postgres
@pytest.mark.redis
def test_worker_and_timetable_do_a_task_and_tell_their_health(tmp_path, run_service, redis_url):
    servers = {
        "FLEET_REDIS_URL": redis_url,
        "FLEET_DATABASE_URL": os.environ["FLEET_DATABASE_URL"],
    }
    worker = run_service("worker", **servers)
    timetable = run_service("timetable", **servers)
    wait_for(worker, r"worker@\S+ ready\.")
    wait_for(timetable, "beat: Starting")

    with app.connection_for_write(servers["FLEET_REDIS_URL"]) as connection:
        app.send_task("celery.accumulate", [27, 29], connection=connection, queue="work")

    wait_for(worker, r"Task celery\.accumulate\[\S+\] succeeded in \S+ \(27, 29\)")
    for name in ("worker", "timetable"):
        result = check_health(name, tmp_path, **servers)
        assert result.returncode == 0, result.stdout + result.stderr
        assert f"{name}@" in result.stdout
        assert "pong" in result.stdout


@pytest.mark.redis
def test_the_health_of_a_worker_that_is_not_there_is_bad(tmp_path, redis_url):
    servers = {
        "FLEET_REDIS_URL": redis_url,
        "FLEET_DATABASE_URL": "postgresql://nowhere/x",
    }
    words = [word.replace("worker@", "nobody@").replace("=10", "=1") for word in health_words("worker")]

    result = subprocess.run(
        words,
        cwd=ROOT,
        env=environment_of("worker", tmp_path, **servers),
        capture_output=True,
        text=True,
        check=False,
    )

    assert result.returncode != 0


@pytest.mark.postgres
def test_web_answers_the_proxy_and_sends_plain_requests_to_https(tmp_path, run_service, free_port):
    servers = {"FLEET_DATABASE_URL": os.environ["FLEET_DATABASE_URL"]}
    log = run_service("web", port=free_port, **servers)
    wait_for(log, "Serving on")

    healthy = check_health("web", tmp_path, port=free_port, **servers)
    request = urllib.request.Request(f"http://127.0.0.1:{free_port}/", headers={"Host": "tires.example.org"})
    with pytest.raises(urllib.error.HTTPError, match="301") as plain:
        urllib.request.build_opener(NoRedirect).open(request, timeout=60)

    assert healthy.returncode == 0, healthy.stderr
    assert plain.value.headers["Location"] == "https://tires.example.org/"
    plain.value.close()


class NoRedirect(urllib.request.HTTPRedirectHandler):
    """Shows a redirect instead of following it."""

    def redirect_request(self, *_args):
        return None
