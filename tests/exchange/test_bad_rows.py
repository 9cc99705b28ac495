"""Bad input is refused by file, line and column, with what is wrong and what would be right; nothing of it is kept."""

import pytest

from fleet.accounts.models import Organisation
from fleet.exchange.actions import import_folder
from fleet.running.models import PressureReading, Stint
from tests.exchange.conftest import NOW


def spoil(rows, sheet, line, /, **cells):
    """Change a row; lines are counted as in the file, the header being the first."""
    rows[sheet][line - 2] |= cells
    return rows


def only_fault(report):
    assert [str(fault) for fault in report.faults[1:]] == []
    return report.faults[0]


@pytest.mark.parametrize(
    ("name", "cells", "column", "words"),
    [
        ("pressures", {"read_kpa": "290 psi"}, "read_kpa", ["'290 psi' is no number", "such as 182.5"]),
        ("pressures", {"read_kpa": "182,5"}, "read_kpa", ["'182,5' is no number", "with a point"]),
        ("pressures", {"read_kpa": "nan"}, "read_kpa", ["is no number"]),
        ("pressures", {"read_kpa": "2000"}, "read_kpa", ["over 700 kPa", "check the unit"]),
        ("pressures", {"read_kpa": ""}, "read_kpa", ["The cell is empty", "give a number"]),
        ("pressures", {"moment": "hot"}, "moment", ["none of the words", "one of set, out, in, later"]),
        ("pressures", {"taken_at": "2026-06-12T09:55:00"}, "taken_at", ["time zone", "+01:00"]),
        ("pressures", {"taken_at": "12/06/2026 09:55"}, "taken_at", ["is no moment", "2026-06-12T"]),
        ("pressures", {"taken_at": "2026-06-31T09:55:00Z"}, "taken_at", ["no moment of the calendar"]),
        ("pressures", {"taken_at": "2026-06-13T09:55:00Z"}, "taken_at", ["has not come yet"]),
        ("pressures", {"tire": "NOSUCH"}, "tire", ["no tire 'NOSUCH'", "tires.csv", "fittings.csv"]),
        ("pressures", {"key": "1234"}, "key", ["'1234' is no UUID", "give a UUID such as"]),
        ("pressures", {"voided_at": "2026-06-12T12:00:00Z"}, "void_reason", ["go together"]),
        ("pressures", {"recorded_at": "2026-06-14T09:00:00Z"}, "recorded_at", ["has not come yet"]),
        ("lots", {"date_code": "3026"}, "date_code", ["week 30 of 2026", "must lie in the past"]),
        ("lots", {"quantity": "4.5"}, "quantity", ["is no count", "a whole number"]),
        ("riders", {"registered_with": "nobody"}, "registered_with", ["no organisation 'nobody'"]),
        ("people", {"email": "robin"}, "email", ["valid email"]),
        ("people", {"roles": "tarn:boss"}, "roles", ["'boss' is no role", "fitter"]),
        ("people", {"roles": "tarn fitter"}, "roles", ["organisation:role"]),
        ("specs", {"size": "3.50-18"}, "size", ["inch or letter designation"]),
        ("specs", {"wear_limit_mm": "9"}, "", ["wear limit lies below"]),
        ("tracks", {"time_zone": "Mars/Base"}, "time_zone", ["no time zone"]),
        ("stints", {"ended_at": "2026-06-12T09:50:00+01:00"}, "", ["ends after it starts"]),
        ("stints", {"event": ""}, "event", ["event and date go together"]),
        ("wheel_pairs", {"name": "=HYPERLINK(1)"}, "name", ["formula", "apostrophe"]),
    ],
)
def test_a_bad_cell_is_named_and_explained(bring_in, rows, name, cells, column, words):
    report = bring_in(spoil(rows, name, 2, **cells))

    fault = only_fault(report)
    assert (fault.file, fault.line, fault.column) == (f"{name}.csv", 2, column)
    assert all(word in fault.sentence for word in words), fault.sentence


def test_every_bad_row_is_named_not_only_the_first(bring_in, rows):
    spoil(rows, "pressures", 2, read_kpa="many")
    spoil(rows, "pressures", 3, moment="hot")
    spoil(rows, "pressures", 4, tire="NOSUCH")
    spoil(rows, "organisations", 3, is_vendor="perhaps")

    report = bring_in(rows)

    assert [(fault.file, fault.line) for fault in report.faults] == [
        ("organisations.csv", 3),
        ("pressures.csv", 2),
        ("pressures.csv", 3),
    ]


def test_all_bad_rows_the_actions_refuse_are_named_too(bring_in, rows):
    spoil(rows, "pressures", 2, read_kpa="9")
    spoil(rows, "pressures", 4, tire="LABELF", stint="", read_kpa="900")

    report = bring_in(rows)

    assert [fault.line for fault in report.faults] == [2, 4]


def test_nothing_of_a_file_with_a_bad_row_is_stored_and_everything_before_it_is(bring_in, rows):
    report = bring_in(spoil(rows, "pressures", 4, read_kpa="900"))

    assert not report.is_done
    assert Stint.objects.count() == 1
    assert PressureReading.objects.count() == 0
    assert report.outcomes[-1].added == 0


def test_a_file_waits_for_the_one_it_builds_on(bring_in, rows):
    report = bring_in(spoil(rows, "fittings", 2, axle="rear"))

    waits = {one.file: one.waits_for for one in report.outcomes if one.waits_for}
    assert waits == {"stints.csv": "fittings.csv", "pressures.csv": "fittings.csv"}
    assert "rear axle" in only_fault(report).sentence


def test_mending_the_row_and_importing_again_completes_the_folder(bring_in, rows):
    bring_in(spoil(rows, "fittings", 2, axle="rear"))
    spoil(rows, "fittings", 2, axle="front")

    report = bring_in(rows)

    assert report.is_done
    assert PressureReading.objects.count() == 3


def test_a_row_that_differs_from_what_is_stored_is_refused_and_changes_nothing(bring_in, rows):
    bring_in(rows)

    report = bring_in(spoil(rows, "organisations", 2, name="Another Name"))

    fault = only_fault(report)
    assert (fault.file, fault.line, fault.column) == ("organisations.csv", 2, "name")
    assert "'Tarn Tire Service', not 'Another Name'" in fault.sentence
    assert Organisation.objects.get(code="tarn").name == "Tarn Tire Service"


def test_two_rows_under_one_key_are_refused(bring_in, rows):
    rows["pressures"][2]["key"] = rows["pressures"][1]["key"]

    fault = only_fault(bring_in(rows))

    assert (fault.line, fault.column) == (4, "key")
    assert "Line 3 holds the same key" in fault.sentence


def test_an_unknown_column_is_named_with_those_that_exist(bring_in, rows):
    spoil(rows, "bikes", 2, colour="red")

    fault = only_fault(bring_in(rows))

    assert (fault.file, fault.line, fault.column) == ("bikes.csv", 1, "colour")
    assert "rider, code, description" in fault.sentence


def test_a_missing_column_is_named(bring_in, rows):
    for row in rows["bikes"]:
        del row["description"]

    fault = only_fault(bring_in(rows))

    assert (fault.line, fault.column) == (1, "description")
    assert "missing" in fault.sentence


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (b"", 1, "The file is empty"),
        (b"code,name,is_vendor,is_organiser\r\ntarn,T\xe4rn,yes,no\r\n", 2, "0xe4 is not UTF-8"),
        (b"code,name,is_vendor,is_organiser\r\ntarn,T\0rn,yes,no\r\n", 2, "NUL byte"),
        (b"code,name,is_vendor,is_organiser\r\ntarn,Tarn,yes\r\n", 2, "3 cells where the header has 4"),
        (b'code,name,is_vendor,is_organiser\r\ntarn,"Tarn,yes,no\r\n', 2, "cannot be read"),
        (b"code,name,is_vendor,is_vendor,is_organiser\r\n", 1, "stands twice"),
    ],
)
def test_a_file_that_is_no_such_csv_is_refused(db, folder, data, line, words):
    folder.mkdir()
    (folder / "organisations.csv").write_bytes(data)

    fault = only_fault(import_folder(folder, at=NOW))

    assert (fault.file, fault.line) == ("organisations.csv", line)
    assert words in fault.sentence


def test_a_byte_order_mark_of_a_spreadsheet_does_no_harm(db, folder):
    folder.mkdir()
    (folder / "organisations.csv").write_text(
        "code,name,is_vendor,is_organiser\ntarn,Tarn Tire Service,yes,no\n", encoding="utf-8-sig"
    )

    assert import_folder(folder, at=NOW).is_done


def test_a_file_with_a_name_of_its_own_is_not_passed_over_in_silence(bring_in, rows):
    rows["stint"] = rows.pop("stints")
    del rows["pressures"]

    fault = only_fault(bring_in(rows))

    assert fault.file == "stint.csv"
    assert "rename it to stints.csv" in fault.sentence


def test_a_sold_out_lot_refuses_the_fitting_too_many(bring_in, rows):
    rows["lots"][0]["quantity"] = "1"
    second = {**rows["fittings"][0], "key": "6a2f0c1e-6d0b-4a5e-9a51-0c9a4f2d7e11", "wheel_pair": "w-2"}
    rows["fittings"].append(second | {"tire": "LABEL2", "fitted_at": "2026-06-12T08:00:00Z"})

    fault = only_fault(bring_in(rows))

    assert (fault.file, fault.line) == ("fittings.csv", 4)
    assert "Nothing of this lot is left" in fault.sentence
