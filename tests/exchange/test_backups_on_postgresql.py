"""A backup of PostgreSQL is made while the service runs and restored into an empty database; the other kind refuses it."""

import os
import subprocess
import sys
import uuid
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest
from psycopg import sql

ROOT = Path(__file__).parents[2]
PEOPLE = (
    "from fleet.accounts.models import Person; print(sorted(Person.objects.values_list('name', flat=True)))"
)
ADD = (
    "from fleet.accounts.actions import add_person; from fleet.accounts.policy import SERVICE;"
    "add_person(by=SERVICE, email='{0}@example.org', name='{0}', password='open the trailer')"
)
KEEP = (
    "from django.utils import timezone; from fleet.photos.actions import keep_photo; from tests.photos.pictures import png;"
    "print(keep_photo(at=timezone.now(), data=png(8, 8)).pk)"
)
FILE = (
    "from fleet.photos.models import Photo; from fleet.photos.queries import content_of;"
    "print(len(content_of(Photo.objects.get())))"
)
OVERLAP = (
    "from fleet.guards import refusal_for; from django.db import connection;"
    "c = connection.cursor(); c.execute('SELECT count(*) FROM pg_trigger WHERE NOT tgisinternal'); print(c.fetchone()[0])"
)
pytestmark = pytest.mark.postgres


@pytest.fixture(scope="module")
def databases():
    """Two empty databases of this test's own."""
    server = os.environ["FLEET_DATABASE_URL"]
    names = [f"backup_{uuid.uuid4().hex[:12]}" for _ in range(2)]
    with psycopg.connect(server, autocommit=True) as connection:
        for name in names:
            connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        yield [urlsplit(server)._replace(path=f"/{name}").geturl() for name in names]
        for name in names:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@pytest.fixture
def service(tmp_path):
    """The commands of a service on a database, with a data folder of its own."""

    def on(database, folder):
        given = {name: value for name, value in os.environ.items() if not name.startswith("FLEET_")}
        given |= {"FLEET_DATA_DIR": str(tmp_path / folder), "PYTHONPATH": str(ROOT)}
        given |= {"FLEET_DATABASE_URL": database} if database else {}

        def run(*arguments):
            return subprocess.run(
                [sys.executable, "manage.py", *arguments],
                cwd=ROOT, env=given, capture_output=True, text=True, check=False,
            )  # fmt: skip

        return run

    return on


def said(run, program):
    ran = run("shell", "--verbosity=0", "--command", program)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


def test_rows_guards_and_photos_come_back_in_an_empty_database_and_over_one_in_use(
    databases, service, tmp_path
):
    first, second = service(databases[0], "first"), service(databases[1], "second")
    assert first("migrate", "--verbosity=0").returncode == 0
    said(first, ADD.format("Ann"))
    said(first, KEEP)
    file = tmp_path / "backup.zip"

    made = first("backup", str(file))
    said(first, ADD.format("Bo"))
    moved = second("restore", str(file))
    refused = first("restore", str(file))
    replaced = first("restore", str(file), "--replace")

    assert made.returncode == 0, made.stderr
    assert moved.returncode == 0, moved.stderr
    assert "say --replace" in refused.stderr
    assert replaced.returncode == 0, replaced.stderr
    for run in (first, second):
        assert said(run, PEOPLE) == "['Ann']"
        assert int(said(run, FILE)) > 50
        assert run("makemigrations", "--check", "--dry-run").returncode == 0
    assert int(said(second, OVERLAP)) == int(said(first, OVERLAP)) > 0
    other = service("", "embedded")
    assert "made on postgresql and this database is sqlite" in other("restore", str(file)).stderr
