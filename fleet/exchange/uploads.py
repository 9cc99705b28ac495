"""Lists sent through a page: CSV or XLSX bytes to rows of text, within limits, nothing of a formula carried over."""

import csv
import io
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any, Final

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from fleet.errors import Invalid

MOST_BYTES: Final = 5 * 1024 * 1024
MOST_UNPACKED_BYTES: Final = 60 * 1024 * 1024
MOST_ROWS: Final = 20_000
MOST_COLUMNS: Final = 100
BROKEN: Final = "The workbook is broken or protected: open and save it again, or send CSV."
Records = list[tuple[int, list[str]]]


def records_of(data: bytes, name: str) -> Records:
    """Return the rows of a list with the line each stands in, the header first; empty rows are left out.

    Raises
    ------
    Invalid
        If the file is neither CSV in UTF-8 nor XLSX, is broken, holds nothing, or is beyond the limits.
    """
    if len(data) > MOST_BYTES:
        raise _wrong(f"The file has {len(data) / 1e6:.1f} MB: send at most 5 MB, split it otherwise.")
    is_workbook = data.startswith(b"PK\x03\x04")
    if name.lower().endswith(".xls") and not is_workbook:
        raise _wrong("This is the old form of a workbook: save it as XLSX or as CSV in UTF-8.")
    records = [record for record in (_sheet(data) if is_workbook else _lines(data)) if any(record[1])]
    if not records:
        raise _wrong("The file is empty: its first row names the columns.")
    # A workbook's row ends with its last filled cell.
    width = len(records[0][1]) if is_workbook else 0
    return [(number, cells + [""] * (width - len(cells))) for number, cells in records]


def _lines(data: bytes) -> Iterator[tuple[int, list[str]]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _wrong("The file is no text in UTF-8: save it as “CSV UTF-8”, or send XLSX.") from None
    if "\0" in text:
        raise _wrong("The file holds a NUL byte, so it is no text: save it as CSV in UTF-8, or send XLSX.")
    head = text.partition("\n")[0]
    # Spreadsheets of countries with a decimal comma part cells by semicolons.
    source = csv.reader(
        io.StringIO(text, newline=""),
        delimiter=";" if head.count(";") > head.count(",") else ",",
        strict=True,
    )
    number = 1
    try:
        for record in source:
            yield _within(number, record)
            number = source.line_num + 1
    except csv.Error as error:
        raise _wrong(
            f"Line {number} cannot be read ({error}): put cells with commas or line breaks in double quotes."
        ) from None


def _sheet(data: bytes) -> Iterator[tuple[int, list[str]]]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED_BYTES:
                raise _wrong("The workbook unpacks to more than 60 MB: send the one sheet as CSV.")
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ValueError, OSError, SyntaxError):
        raise _wrong(BROKEN) from None
    try:
        sheet = book.worksheets[0] if book.worksheets else None
        if sheet is None:
            raise _wrong("The workbook has no sheet: put the list on the first one.")
        yield from _cells(sheet)
    except (zipfile.BadZipFile, zlib.error, LookupError, ValueError, OSError, SyntaxError, OverflowError):
        raise _wrong(BROKEN) from None  # cells are read only now
    finally:
        book.close()


def _cells(sheet: Any) -> Iterator[tuple[int, list[str]]]:
    # A row is as wide as its last cell claims: the columns beyond the limit are not built.
    rows = sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS + 1)
    for number, row in enumerate(rows, start=1):
        cells = [_text(cell) for cell in row]
        while cells and not cells[-1]:
            cells.pop()
        yield _within(number, cells)


def _within(number: int, record: list[str]) -> tuple[int, list[str]]:
    if number > MOST_ROWS + 1:
        raise _wrong(f"The list has more than {MOST_ROWS} rows: split it.")
    if len(record) > MOST_COLUMNS:
        raise _wrong(f"Line {number} has {len(record)} cells: a list has at most {MOST_COLUMNS} columns.")
    return number, [cell.strip() for cell in record]


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == cell.time().min else cell.isoformat()
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def _wrong(sentence: str) -> Invalid:
    return Invalid(sentence, field="file")
