"""Writing the folder: every stored row as cells, in an order that depends on nothing but the rows."""

import csv
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TextIO

from django.db import connection, transaction

from fleet.exchange.columns import Column, Sheet
from fleet.exchange.folder import SHEETS
from fleet.exchange.reading import escaped


def export_folder(folder: Path, *, progress: Callable[[int], None] = lambda _done: None) -> dict[str, int]:
    """Write every file of the folder as of one moment, and return how many rows each holds."""
    folder.mkdir(parents=True, exist_ok=True)
    counts: dict[str, int] = {}
    alone = not connection.in_atomic_block
    with transaction.atomic():
        if alone and connection.vendor == "postgresql":
            connection.cursor().execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        for sheet in SHEETS:
            records = written_rows(sheet)
            _write(folder / sheet.file, sheet, records)
            counts[sheet.file] = len(records)
            progress(len(counts))
    return counts


def written_rows(sheet: Sheet) -> list[list[str]]:
    """Return the stored rows of a sheet as written, facts by when they were recorded, things by their names."""
    order = ("recorded_at", *sheet.identity) if sheet.phase else sheet.identity
    rows = [sheet.cells_of(row) for row in sheet.rows()]
    rows.sort(key=lambda cells: [(cells[name] is None, cells[name]) for name in order])
    return [[cell(column, cells[column.name]) for column in sheet.columns] for cells in rows]


def cell(column: Column, value: Any) -> str:
    """Return one value as it stands in a file."""
    if value is None or value in ("", []):
        return ""
    text = column.kind.write(value)
    return escaped(text) if column.kind.is_text else text


def write_records(file: TextIO, names: Iterable[str], records: Iterable[list[str]]) -> None:
    """Write a header of column names and what stands under it."""
    writer = csv.writer(file)
    writer.writerow(names)
    writer.writerows(records)


def _write(path: Path, sheet: Sheet, records: list[list[str]]) -> None:
    unfinished = path.with_suffix(".unfinished")
    with unfinished.open("w", encoding="utf-8", newline="") as file:
        write_records(file, [column.name for column in sheet.columns], records)
    unfinished.replace(path)
