"""The archive: a folder of everything held about somebody, packed file by file."""

import io
import zipfile
from collections.abc import Iterable
from datetime import datetime
from typing import IO, Final

from django.db import connection, transaction

from fleet.exchange.writing import write_records, written_rows
from fleet.photos.files import path_of
from fleet.privacy.held import CHANGES, TABLES, WORK, WRITERS, changes, described, work, writers
from fleet.privacy.holder import Holder
from fleet.privacy.narrowed import sheets_about
from fleet.privacy.pictures import photos_about

FIRST_WORDS: Final = """\
Everything this track-day tire service holds about {name}, taken out on {at:%d %B %Y at %H:%M} UTC.

All files but photos are tables (CSV, UTF-8, comma, first row the column names); a spreadsheet opens them. A text that begins with
an apostrophe and then = + - or @ had no apostrophe: it keeps spreadsheets from running the text as a formula.

No column names anybody else: what the crew of an organisation wrote about you is signed by the organisation. Free words
stand as they were written.

Not in here, because it is a secret and not stored or not readable: your password, the secrets of your second factor and
of your API keys.

exchange/: what was entered, in the format the service exchanges data in. Times carry their zone, units stand in the
column names. `manage.py import` reads the folder into a service of your own; accounts begin there without a password.
Your tires from a vendor's stock stand in tires.csv like tires you bought elsewhere, with their date code.
"""


def write_archive(file: IO[bytes], holder: Holder, *, at: datetime) -> None:
    """Write the archive of somebody as of one moment, holding one file of it in memory at a time."""
    alone = not connection.in_atomic_block
    with transaction.atomic(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        if alone and connection.vendor == "postgresql":
            connection.cursor().execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        packed.writestr("README.txt", _words(holder, at))
        for sheet in sheets_about(holder):
            names = [column.name for column in sheet.columns]
            _pack(packed, f"exchange/{sheet.file}", names, written_rows(sheet))
        for table in TABLES:
            _pack(packed, f"more/{table.name}.csv", table.header, table.records(holder))
        for photo in photos_about(holder):
            if (path := path_of(photo.pk)).exists():
                packed.write(path, f"photos/{path.name}", zipfile.ZIP_STORED)
        _pack(packed, "more/writers.csv", WRITERS, writers(holder))
        _pack(packed, "more/changes.csv", CHANGES, changes(holder))
        _pack(packed, "more/work.csv", WORK, work(holder))


def _pack(packed: zipfile.ZipFile, name: str, columns: Iterable[str], records: Iterable[list[str]]) -> None:
    with packed.open(name, "w", force_zip64=True) as raw, io.TextIOWrapper(raw, "utf-8", newline="") as text:
        write_records(text, columns, records)


def _words(holder: Holder, at: datetime) -> str:
    name = holder.rider or holder.person
    lines = [FIRST_WORDS.format(name=name, at=at)]
    lines += [f"  {sheet.file}: {sheet.about}" for sheet in sheets_about(holder)]
    lines += ["", "more/: what the exchange folder has no place for.", ""]
    lines += [f"  {file}: {about}" for file, about in described()]
    return "\n".join([*lines, ""])
