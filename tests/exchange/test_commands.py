"""``manage.py import`` and ``manage.py export``: a sentence for people, data for programs, an error that says what to do."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from fleet.exchange.folder import SHEETS


def run(*arguments):
    answer = StringIO()
    call_command(*arguments, stdout=answer)
    return answer.getvalue()


def test_an_import_says_what_came_of_each_file(db, write, rows):
    answer = run("import", str(write(rows)))

    assert "organisations.csv" in answer
    assert [line.split()[1:4] for line in answer.splitlines() if line.startswith("pressures.csv")] == [
        ["3", "3", "0"]
    ]


def test_an_import_answers_programs_with_data(db, write, rows):
    answer = json.loads(run("import", str(write(rows)), "--json"))

    assert answer["is_done"] is True
    assert {
        name: next(one for one in answer["files"] if one["file"] == "stints.csv")[name]
        for name in ("file", "is_done", "rows", "added")
    } == {"file": "stints.csv", "is_done": True, "rows": 1, "added": 1}


def test_a_bad_row_ends_the_command_with_its_place_and_what_is_right(db, write, rows):
    rows["stints"][0]["laps"] = "some"

    with pytest.raises(CommandError) as refused:
        run("import", str(write(rows)))

    assert "stints.csv, line 2, column laps: 'some' is no count: give a whole number" in str(refused.value)


def test_programs_get_the_bad_rows_as_data_too(db, write, rows):
    rows["stints"][0]["laps"] = "some"
    answer = StringIO()

    with pytest.raises(CommandError):
        call_command("import", str(write(rows)), "--json", stdout=answer)

    fault = json.loads(answer.getvalue())["faults"][0]
    assert (fault["file"], fault["line"], fault["column"]) == ("stints.csv", 2, "laps")


def test_a_folder_that_is_none_is_refused(tmp_path):
    with pytest.raises(CommandError, match="is no folder"):
        run("import", str(tmp_path / "nowhere"))


def test_a_folder_without_any_of_the_files_is_refused(db, tmp_path):
    with pytest.raises(CommandError, match="holds none of the files"):
        run("import", str(tmp_path))


def test_an_export_says_how_much_was_written(db, tmp_path):
    assert run("export", str(tmp_path / "out")).startswith(f"0 rows written to {len(SHEETS)} files")


def test_an_export_to_a_place_that_cannot_be_written_says_so(db, tmp_path):
    (tmp_path / "taken").write_text("a file")

    with pytest.raises(CommandError, match="name another folder"):
        run("export", str(tmp_path / "taken"))


def test_the_columns_are_described_without_a_database():
    answer = run("import", "--describe")

    assert all(f"`{column.name}`" in answer for sheet in SHEETS for column in sheet.columns)


def test_the_files_are_described_briefly_a_line_each():
    lines = run("import", "--describe", "--brief").splitlines()

    assert len(lines) == len(SHEETS) + 2
    assert "| `bikes.csv` |" in "\n".join(lines)
    assert "(`wheelbase_mm`)" in "\n".join(lines)


README = Path(__file__).resolve().parents[2] / "README.md"


def test_the_readme_names_every_file_and_every_column():
    text = README.read_text(encoding="utf-8")

    assert [sheet.file for sheet in SHEETS if f"`{sheet.file}`" not in text] == []
    assert {
        f"{sheet.file} {column.name}"
        for sheet in SHEETS
        for column in sheet.columns
        if f"`{column.name}`" not in text
    } == set()
