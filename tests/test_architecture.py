"""The house stands as its rules say: arrows, ladder, sizes, words, migrations."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

ROOT = Path(__file__).parent.parent
SUBJECTS = [name for name in settings.INSTALLED_APPS if name.startswith("fleet.")]
AT_THE_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "manage.py",
    "docker-compose.yml",
    "fleet",
    "api",
    "tests",
}
NO_ORACLE = {"logging", "os", "pathlib", "random", "secrets", "subprocess", "tempfile", "time"}
UNFINISHED = re.compile("|".join(("TO" + "DO", "FIX" + "ME")))
SPEAKS_HTTP = ("django.http", "django.urls", "django.shortcuts", "django.views", "rest_framework")


def committed(*patterns):
    """List the project's files as committed or about to be."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", *patterns], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return [ROOT / name for name in listed.stdout.splitlines() if (ROOT / name).exists()]


def imports_of(path):
    """Name the modules a file imports."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def test_every_import_follows_the_arrows():
    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True) == EXIT_STATUS_SUCCESS


def test_no_contract_has_an_exception():
    contracts = (ROOT / "pyproject.toml").read_text().split("[tool.importlinter]")[1]

    assert "ignore_imports" not in contracts


def test_foreign_keys_point_down_the_ladder():
    rung = {name.removeprefix("fleet."): place for place, name in enumerate(SUBJECTS)}

    upward = [
        f"{model.__name__}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if model._meta.app_label in rung and field.concrete and field.is_relation
        if rung.get(field.related_model._meta.app_label, -1) > rung[model._meta.app_label]
    ]

    assert upward == []


def test_every_model_says_what_it_is():
    ours = [model for model in apps.get_models() if model.__module__.startswith("fleet.")]

    silent = [model.__name__ for model in ours if model.__doc__.startswith(f"{model.__name__}(")]

    assert ours
    assert silent == []


def test_no_python_file_is_over_400_lines():
    long = [path.name for path in committed("*.py") if len(path.read_text().splitlines()) > 400]

    assert long == []


def test_nothing_is_left_unfinished():
    texts = [
        path for path in committed("*.py", "*.md", "*.html", "*.css", "*.js") if "vendor" not in path.parts
    ]

    marked = [path.name for path in texts if UNFINISHED.search(path.read_text())]

    assert len(texts) > 100
    assert marked == []


def test_the_top_holds_only_what_was_agreed():
    at_the_top = {path.relative_to(ROOT).parts[0] for path in committed()}

    assert {name for name in at_the_top if not name.startswith(".")} <= AT_THE_TOP


def test_science_loads_neither_django_nor_celery():
    program = (
        "import importlib, pkgutil, sys, fleet.science as science\n"
        "names = [m.name for m in pkgutil.walk_packages(science.__path__, 'fleet.science.')]\n"
        "assert len(names) > 10, names\n"
        "for name in names: importlib.import_module(name)\n"
        "sys.exit(', '.join({'django', 'celery', 'kombu', 'fleet.settings'} & set(sys.modules)) or None)\n"
    )

    ran = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert (ran.returncode, ran.stderr) == (0, "")


def test_science_imports_numpy_scipy_and_a_standard_library_without_clock_or_files():
    allowed = (sys.stdlib_module_names - NO_ORACLE) | {"numpy", "scipy"}

    foreign = {
        f"{path.name}: {name}"
        for path in committed("fleet/science/*.py")
        for name in imports_of(path)
        if name.split(".")[0] not in allowed and not name.startswith("fleet.science")
    }

    assert foreign == set()


@pytest.mark.parametrize("subject", [name for name in SUBJECTS if name != "fleet.pages"])
def test_the_domain_speaks_no_http(subject):
    folder = subject.replace(".", "/")

    speaking = {
        f"{path.name}: {name}"
        for path in committed(f"{folder}/*.py")
        for name in imports_of(path)
        if name.startswith(SPEAKS_HTTP)
    }

    assert speaking == set()


def test_models_and_migrations_agree(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
