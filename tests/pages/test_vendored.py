"""Files that others made: unchanged, complete, and with their licences."""

from hashlib import sha256
from pathlib import Path

import pytest

HOME = Path(__file__).parents[2]
FOLDERS = [HOME / "fleet/pages/static/vendor", HOME / "fleet/pages/printing/vendor", HOME / "tests/vendor"]


@pytest.mark.parametrize("folder", FOLDERS, ids=str)
def test_every_vendored_file_is_the_one_in_the_manifest(folder):
    listed = dict(reversed(line.split()) for line in (folder / "manifest.txt").read_text().splitlines())

    found = {
        str(path.relative_to(folder)): sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and path.name != "manifest.txt"
    }

    assert found == listed


@pytest.mark.parametrize("folder", FOLDERS, ids=str)
def test_every_vendored_package_carries_its_licence(folder):
    packages = [path for path in folder.iterdir() if path.is_dir()]

    assert packages
    for package in packages:
        assert (package / "LICENSE.txt").stat().st_size > 500
