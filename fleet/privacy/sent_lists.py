"""What an erasure takes out of lists that others sent and have not taken over yet.

They are forgotten after a day by themselves, but a roster taken within it would bring back who has just left.
"""

import re
from typing import Any, Final

from fleet.exchange.models import ERASED_CELL, Upload
from fleet.garage.models import Rider

NAMED_BY: Final = ("contact", "rider")
"""Columns of a roster that point to one person without their name."""


def search_sent_lists(marks: list[str], rider: Rider | None) -> None:
    """Take addresses and names, a rider's contact and code out of lists that wait; a roster's line goes whole."""
    found = [rf"(?<!\w){re.escape(mark)}(?!\w)" for mark in marks]
    pattern = re.compile("|".join(found) or r"(?!)", re.IGNORECASE)
    own = {_plain(one) for one in (rider.contact, rider.code) if one.strip()} if rider else set()
    for upload in Upload.objects.exclude(rows=[]).iterator():
        rows = [
            [line, _without(upload, place, cells, pattern, own)]
            for place, (line, cells) in enumerate(upload.rows)
        ]
        name = pattern.sub(ERASED_CELL, upload.file_name)[:100]
        if (rows, name) != (upload.rows, upload.file_name):
            Upload.objects.filter(pk=upload.pk).update(rows=rows, file_name=name)


def _without(
    upload: Upload, place: int, cells: list[Any], pattern: re.Pattern[str], own: set[str]
) -> list[Any]:
    """Return the cells of one row: of a delivery without the words, of a roster the mark alone where they name somebody."""
    found = [pattern.sub(ERASED_CELL, cell) if isinstance(cell, str) else cell for cell in cells]
    if upload.day_id is None or place == 0:
        return found
    header = [_plain(name) for name in upload.rows[0][1]]
    points = any(name in NAMED_BY and _plain(cell) in own for name, cell in zip(header, cells, strict=False))
    return [ERASED_CELL] if points or found != cells else cells


def _plain(cell: object) -> str:
    return str(cell).strip().casefold()
