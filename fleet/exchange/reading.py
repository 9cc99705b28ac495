"""Reading a file of the folder: bytes to cells to values, every bad cell named, nothing looked up in the database."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from fleet.exchange.columns import Column, Sheet
from fleet.exchange.faults import Fault

LONGEST_CELL: Final = 5000
FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
MARK: Final = "'"


@dataclass(frozen=True)
class Line:
    """One row as read: where it stood, its values by column, and the columns that were not empty."""

    number: int
    cells: dict[str, Any]
    given: frozenset[str]


@dataclass
class Reading:
    """A file as read: its good rows, and what is wrong with the others."""

    sheet: Sheet
    lines: list[Line] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def wrong(self, line: int, column: str, sentence: str) -> None:
        """Add a fault of this file."""
        self.faults.append(Fault(self.sheet.file, line, column, sentence))


def escaped(text: str) -> str:
    """Return a text with a leading apostrophe where a spreadsheet would run it as a formula."""
    return MARK + text if text.startswith((*FORMULA, MARK)) else text


def unescaped(text: str) -> str:
    """Return a text without the apostrophe that ``escaped`` put before it."""
    return text[1:] if text.startswith(MARK) and text[1:].startswith((*FORMULA, MARK)) else text


def read_sheet(path: Path, sheet: Sheet) -> Reading:
    """Read one file; whatever is wrong stands in the result's faults."""
    reading = Reading(sheet)
    text = _text(path.read_bytes(), reading)
    return reading if text is None else _read(_records(text, reading), reading)


def read_records(records: Iterator[tuple[int, list[str]]], sheet: Sheet) -> Reading:
    """Read rows of text with their line numbers, the header first; whatever is wrong stands in the result's faults."""
    return _read(records, Reading(sheet))


def _read(records: Iterator[tuple[int, list[str]]], reading: Reading) -> Reading:
    sheet = reading.sheet
    header = next(records, None)
    if header is None:
        reading.wrong(1, "", f"The file is empty: its first row names the columns ({_names(sheet)}).")
        return reading
    columns = _header(header[1], reading)
    if columns is None:
        return reading
    for number, record in records:
        line = _line(number, record, columns, reading)
        if line is not None:
            reading.lines.append(line)
    _refuse_twins(reading)
    return reading


def _text(data: bytes, reading: Reading) -> str | None:
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        reading.wrong(line, "", "The file holds a NUL byte, so it is no text: save it as CSV in UTF-8.")
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        reading.wrong(
            line,
            "",
            f"The byte {data[error.start]:#04x} is not UTF-8: save the file as CSV in UTF-8, not in the encoding of "
            "an older spreadsheet.",
        )
        return None


def _records(text: str, reading: Reading) -> Iterator[tuple[int, list[str]]]:
    source = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = 1
    try:
        for record in source:
            if record:
                yield number, record
            number = source.line_num + 1
    except csv.Error as error:
        reading.wrong(
            number,
            "",
            f"The row cannot be read ({error}): separate cells by commas, and put cells with commas or line breaks "
            "in double quotes.",
        )


def _header(names: list[str], reading: Reading) -> list[Column] | None:
    sheet = reading.sheet
    known = {column.name: column for column in sheet.columns}
    trimmed = [name.strip() for name in names]
    before = len(reading.faults)
    for place, name in enumerate(trimmed):
        if name not in known:
            reading.wrong(1, name, f"There is no such column: use {_names(sheet)}.")
        elif name in trimmed[:place]:
            reading.wrong(1, name, "The column stands twice: keep one.")
    reading.faults.extend(
        Fault(
            sheet.file,
            1,
            column.name,
            f"The column is missing: add it, with {column.kind.right} in every row.",
        )
        for column in sheet.columns
        if column.required and column.name not in trimmed
    )
    return [known[name] for name in trimmed] if len(reading.faults) == before else None


def _line(number: int, record: list[str], columns: list[Column], reading: Reading) -> Line | None:
    if len(record) != len(columns):
        reading.wrong(
            number,
            "",
            f"The row has {len(record)} cells where the header has {len(columns)}: give one cell to each column, and "
            "put cells with commas in double quotes.",
        )
        return None
    cells = {column.name: column.empty for column in reading.sheet.columns}
    given = set()
    before = len(reading.faults)
    for column, text in zip(columns, record, strict=True):
        value = _value(number, column, text, reading)
        if value is not None:
            cells[column.name] = value
            given.add(column.name)
    _refuse_halves(number, cells, reading)
    return Line(number, cells, frozenset(given)) if len(reading.faults) == before else None


def _value(number: int, column: Column, text: str, reading: Reading) -> Any:
    if not text.strip():
        if column.required:
            reading.wrong(number, column.name, f"The cell is empty: give {column.kind.right}.")
        return None
    if len(text) > LONGEST_CELL:
        reading.wrong(number, column.name, f"The cell has {len(text)} characters: shorten it.")
        return None
    try:
        if not column.kind.is_text:
            return column.kind.parse(text)
    except ValueError as error:
        reading.wrong(number, column.name, f"{error}: give {column.kind.right}.")
        return None
    if text.startswith(FORMULA) and not _is_number(text):
        reading.wrong(
            number,
            column.name,
            f"{text[:40]!r} would run as a formula in a spreadsheet: begin the cell with an apostrophe if it is "
            "meant as text.",
        )
        return None
    return unescaped(text)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _refuse_halves(number: int, cells: dict[str, Any], reading: Reading) -> None:
    """Refuse an ending without its reason, a reason without its moment, and half of a name made of two columns."""
    for ending in reading.sheet.endings:
        if ending.reason and bool(cells[ending.moment]) != bool(cells[ending.reason]):
            missing = ending.reason if cells[ending.moment] else ending.moment
            reading.wrong(
                number, missing, f"{ending.moment} and {ending.reason} go together: give both or none."
            )
    for column in reading.sheet.columns:
        for name in column.also:
            partner = reading.sheet.column(name)
            lonely = cells[column.name] and not cells[name]
            idle = cells[name] and not cells[column.name] and not partner.keyword
            if lonely or idle:
                reading.wrong(
                    number,
                    name if lonely else column.name,
                    f"{name} and {column.name} go together: give both or none.",
                )


def _refuse_twins(reading: Reading) -> None:
    first: dict[Any, int] = {}
    identity = reading.sheet.identity
    for line in reading.lines:
        named = reading.sheet.identity_of(line.cells)
        if named in first:
            reading.wrong(
                line.number,
                identity[-1],
                f"Line {first[named]} holds the same {', '.join(identity)}: keep one of the two.",
            )
        first.setdefault(named, line.number)


def _names(sheet: Sheet) -> str:
    return ", ".join(column.name for column in sheet.columns)
