"""What those who run the service do for somebody who asks on paper."""

import zipfile

import pytest
from django.core.management import CommandError, call_command

from fleet.garage.models import Rider


@pytest.fixture
def walk_in(rider, fitted):
    """Robin without an account, on tires the vendor fitted."""
    Rider.objects.filter(pk=rider.pk).update(person=None)
    return rider


def test_a_walk_in_gets_an_archive_that_only_its_owner_can_read(walk_in, tmp_path, capsys):
    file = tmp_path / "robin.zip"

    call_command("take_out", "r-001", str(file))

    assert file.stat().st_mode & 0o077 == 0
    assert "Robin Vale" in zipfile.ZipFile(file).read("exchange/riders.csv").decode()
    assert "hand it to nobody else" in capsys.readouterr().out


def test_an_archive_replaces_no_file(walk_in, tmp_path):
    file = tmp_path / "kept.txt"
    file.write_text("something else")

    with pytest.raises(CommandError, match="exists already: name another file"):
        call_command("take_out", "r-001", str(file))

    assert file.read_text() == "something else"


def test_a_walk_in_is_erased_after_the_code_was_typed_once_more(walk_in, monkeypatch, capsys):
    monkeypatch.setattr("builtins.input", lambda _question: "r-001")

    call_command("erase_rider", "r-001")

    walk_in.refresh_from_db()
    assert walk_in.name == "Erased rider"
    assert "r-001 is erased" in capsys.readouterr().out


def test_another_code_typed_erases_nothing(walk_in, monkeypatch):
    monkeypatch.setattr("builtins.input", lambda _question: "r-002")

    with pytest.raises(CommandError, match="nothing was erased"):
        call_command("erase_rider", "r-001")

    walk_in.refresh_from_db()
    assert walk_in.name == "Robin Vale"


@pytest.mark.django_db
@pytest.mark.parametrize("command", [["take_out", "r-999", "x.zip"], ["erase_rider", "r-999", "--yes"]])
def test_an_unknown_code_is_refused_with_where_to_look(command):
    with pytest.raises(CommandError, match="No rider has the code 'r-999': look at the job ticket"):
        call_command(*command)


def test_a_second_erasure_finds_nobody(walk_in):
    call_command("erase_rider", "r-001", "--yes")

    with pytest.raises(CommandError, match="No rider has the code"):
        call_command("erase_rider", "r-001", "--yes")
