"""Every variable, command, place and task a reader needs stands in the documents, and what stands there exists."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands
from django.urls import resolve

from fleet.checks import VARIABLES

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
OURS = sorted(name for name, app in get_commands().items() if str(app).startswith(("fleet", "api")))


@pytest.mark.parametrize("name", sorted(VARIABLES))
def test_every_setting_is_explained(name):
    assert f"`{name}`" in README


@pytest.mark.parametrize("name", OURS)
def test_every_command_is_explained(name):
    assert f"`manage.py {name}" in README


@pytest.mark.parametrize("path", re.findall(r"`(/[a-z0-9/.]+)`", README))
def test_every_address_in_the_readme_answers(path):
    assert resolve(path)


def test_every_subject_is_on_the_map():
    subjects = [name.replace(".", "/") + "/" for name in settings.INSTALLED_APPS if name.startswith("fleet.")]

    assert [subject for subject in subjects if subject not in DEVELOPERS] == []


@pytest.mark.parametrize(
    "path", sorted(set(re.findall(r"`((?:fleet|api|tests)/[\w/.]+)`", DEVELOPERS + README)))
)
def test_every_file_the_documents_name_exists(path):
    assert (ROOT / path).exists()


def test_every_module_at_the_top_of_fleet_is_explained():
    modules = {path.name for path in (ROOT / "fleet").glob("*.py")} - {"__init__.py", "urls.py", "wsgi.py"}

    assert [name for name in sorted(modules) if f"`{name}`" not in DEVELOPERS] == []


def test_the_demo_and_the_tests_start_with_one_line_each():
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv")]

    assert len(lines) == 2
    assert lines[0].endswith("manage.py demo")
    assert lines[1].endswith("-m pytest")
