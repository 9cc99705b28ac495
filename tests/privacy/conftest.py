"""Archives as a rider would open them, and one thin season to take them out of."""

import csv
import io
import zipfile
from datetime import UTC, date, datetime

import pytest

from fleet.accounts.policy import SERVICE
from fleet.demo.scenario import generate
from fleet.privacy.actions import take_out

AT = datetime(2026, 6, 12, 15, 0, tzinfo=UTC)


@pytest.fixture
def at():
    return AT


@pytest.fixture(scope="session")
def season(tmp_path_factory):
    """A thin season with every kind of fact in it, voided, lifted and on hold ones too."""
    folder = tmp_path_factory.mktemp("season")
    generate(folder, today=date(2026, 6, 12), at=AT, attendance=0.08)
    return folder


@pytest.fixture
def archive():
    """Take somebody's archive out, and give back its files as text by name."""

    def open_archive(*, rider=None, by=SERVICE, at=AT):
        file = io.BytesIO()
        take_out(by=by, at=at, file=file, rider=rider)
        with zipfile.ZipFile(file) as packed:
            return {name: packed.read(name).decode() for name in packed.namelist()}

    return open_archive


@pytest.fixture
def table():
    """Read one file of an archive as a list of rows by column."""
    return lambda files, name: list(csv.DictReader(io.StringIO(files[name])))
