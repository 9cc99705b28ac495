"""An export holds what the database holds, safe to open in a spreadsheet."""

import csv

import pytest

from fleet.accounts.actions import choose_units
from fleet.accounts.models import Person
from fleet.exchange.folder import SHEETS
from fleet.exchange.writing import export_folder
from fleet.inventory.actions import void_fitting
from fleet.inventory.models import Fitting


@pytest.fixture
def exported(tmp_path):
    """Export and read one file back as rows."""

    def run(name):
        export_folder(tmp_path / "out")
        with (tmp_path / "out" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return run


def test_every_file_is_there_even_without_a_row(db, tmp_path):
    export_folder(tmp_path)

    assert {path.name for path in tmp_path.iterdir()} == {sheet.file for sheet in SHEETS}


def test_a_cell_that_a_spreadsheet_would_run_is_written_as_text(bring_in, rows, exported):
    rows["organisations"][0]["contact"] = "'=1+1"
    rows["riders"][0]["contact"] = 'quote " comma , and\nline break'

    report = bring_in(rows)

    assert report.faults == []
    assert exported("organisations")[1]["contact"] == "'=1+1"
    assert exported("riders")[0]["contact"] == 'quote " comma , and\nline break'


def test_moments_are_written_in_utc_with_their_zone(bring_in, rows, exported):
    bring_in(rows)

    assert exported("stints")[0]["started_at"] == "2026-06-12T09:00:00Z"


def test_no_password_leaves_the_service(rider_person, exported):
    row = exported("people")[0]

    assert row["email"] == rider_person.email
    assert rider_person.password not in row.values()


def test_the_units_somebody_chose_come_back(bring_in, rows, exported):
    bring_in(rows)
    robin = Person.objects.get(email="robin@example.org")
    choose_units(by=robin, pressure_unit="bar", temperature_unit="F", depth_unit="mm", distance_unit="mi")

    row = next(one for one in exported("people") if one["email"] == robin.email)

    assert (row["pressure_unit"], row["temperature_unit"], row["distance_unit"]) == ("bar", "F", "mi")


def test_a_voided_fitting_is_written_with_its_reason(bring_in, rows, exported, service, now_later):
    del rows["stints"], rows["pressures"]
    bring_in(rows)
    fitting = Fitting.objects.get(axle="front")
    void_fitting(by=service, at=now_later, fitting=fitting, reason="the other wheel")

    row = next(one for one in exported("fittings") if one["axle"] == "front")

    assert row["void_reason"] == "the other wheel"
    assert row["voided_at"] == "2026-06-12T19:00:00Z"
    assert row["lot"] == "lot-f"


def test_a_fitting_does_not_write_its_ledger_line_a_second_time(bring_in, rows, exported):
    bring_in(rows)

    assert exported("movements") == []
    assert [row["quantity"] for row in exported("lots")] == ["4", "4"]


def test_the_number_of_queries_does_not_grow_with_the_rows(
    bring_in, rows, tmp_path, django_assert_max_num_queries
):
    bring_in(rows)

    with django_assert_max_num_queries(len(SHEETS) + 6):
        export_folder(tmp_path / "out")
