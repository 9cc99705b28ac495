"""A backup is made while the service runs, and restored: the rows are those of that moment."""

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from fleet.errors import Invalid
from fleet.exchange.backups import about_of

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """A service of its own on an embedded database, and its commands."""
    folder = tmp_path_factory.mktemp("service")
    environment = {name: value for name, value in os.environ.items() if not name.startswith("FLEET_")}
    environment |= {"FLEET_DATA_DIR": str(folder / "data"), "PYTHONPATH": str(ROOT)}

    def ran(*arguments):
        return subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip

    ran.folder = folder
    assert ran("migrate", "--verbosity=0").returncode == 0
    return ran


def people(run):
    asked = "from fleet.accounts.models import Person; print(sorted(Person.objects.values_list('name', flat=True)))"
    return run("shell", "--verbosity=0", "--command", asked).stdout.strip()


def add(run, name):
    made = (
        "from fleet.accounts.actions import add_person; from fleet.accounts.policy import SERVICE;"
        f"add_person(by=SERVICE, email='{name.lower()}@example.org', name='{name}', password='open the trailer')"
    )
    assert run("shell", "--command", made).returncode == 0


def test_what_was_there_comes_back_and_what_came_later_is_gone(run, tmp_path):
    add(run, "Ann")
    file = tmp_path / "backup.zip"
    made = run("backup", str(file))
    add(run, "Bo")

    refused = run("restore", str(file))
    between = people(run)
    restored = run("restore", str(file), "--replace")

    assert made.returncode == 0, made.stderr
    assert file.stat().st_mode & 0o777 == 0o600
    assert "say --replace" in refused.stderr
    assert between == "['Ann', 'Bo']"
    assert restored.returncode == 0, restored.stderr
    assert people(run) == "['Ann']"
    again = run("backup", str(file))
    assert "exists already" in again.stderr


def test_a_backup_of_a_newer_version_is_refused(run, tmp_path):
    file = tmp_path / "newer.zip"
    with zipfile.ZipFile(file, "w") as archive:
        about = {"engine": "sqlite", "made_at": "2026-06-12", "migrations": ["accounts.9999_later"]}
        archive.writestr("about.json", json.dumps(about))
        archive.writestr("database", b"")

    assert "newer version" in run("restore", str(file), "--replace").stderr


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 broken", b"something else"])
def test_a_file_that_is_no_backup_is_refused(tmp_path, content):
    file = tmp_path / "other.zip"
    file.write_bytes(content)

    with pytest.raises(Invalid, match="no whole backup"):
        about_of(file)
    with pytest.raises(Invalid, match="There is no file"):
        about_of(tmp_path / "missing.zip")


def photographed(run):
    """Keep a photo through the service's own shell and return the id of its row."""
    made = (
        "from django.utils import timezone; from fleet.photos.actions import keep_photo; from tests.photos.pictures import jpeg;"
        "print(keep_photo(at=timezone.now(), data=jpeg()).pk)"
    )
    return run("shell", "--verbosity=0", "--command", made).stdout.strip()


def test_photos_come_back_and_a_name_that_is_none_is_left_in_the_file(run, tmp_path):
    folder = run.folder / "data" / "photos"
    pk = photographed(run)
    [path] = folder.glob(f"??/{pk}.png")
    before, file = path.read_bytes(), tmp_path / "photos.zip"
    add(run, "Cy")
    assert run("backup", str(file)).returncode == 0
    path.unlink()
    with zipfile.ZipFile(file, "a") as archive:
        archive.writestr("photos/../../escaped.png", b"x")
        archive.writestr("photos/other.png", b"x")

    restored = run("restore", str(file), "--replace")

    assert restored.returncode == 0, restored.stderr
    assert path.read_bytes() == before
    assert [found.name for found in run.folder.rglob("*.png")] == [f"{pk}.png"]
