"""The columns of a roster as organisers' own lists name them, brought to those the sheet reads."""

import re
from dataclasses import dataclass
from typing import Final

from fleet.exchange.uploads import Records

HEADER_WITHIN: Final = 10
"""So many rows from the top may be titles and notes before the one that names the columns."""
NEEDED: Final = ("number", "name", "group")
NAMES: Final = (*NEEDED, "bike", "warmers", "contact", "rider")
ALSO: Final = {
    "no": "number",
    "nr": "number",
    "#": "number",
    "bike number": "number",
    "race number": "number",
    "start number": "number",
    "rider name": "name",
    "full name": "name",
    "pace group": "group",
    "motorcycle": "bike",
    "bike class": "bike",
    "tire warmers": "warmers",
    "phone": "contact",
    "mobile": "contact",
    "e mail": "contact",
    "email": "contact",
    "rider code": "rider",
}


@dataclass(frozen=True)
class NamedList:
    """A list that begins with the sheet's own column names, and the columns of it that a roster has no use for."""

    records: Records
    passed_over: list[str]


def named(records: Records) -> NamedList:
    """Return a list from the row on that names its columns, with the columns a roster knows and no other.

    What a roster has no use for is left out here, so that it is stored nowhere. Where no row names columns, the list stays as
    it is: the reading says what is missing.
    """
    at = next((at for at, (_, cells) in enumerate(records[:HEADER_WITHIN]) if _is_header(cells)), None)
    if at is None:
        return NamedList(records, [])
    number, header = records[at]
    places = _places(header)
    passed_over = [
        cell.strip() for place, cell in enumerate(header) if place not in places.values() and cell.strip()
    ]
    rows = [(line, [_cell(cells, place) for place in places.values()]) for line, cells in records[at + 1 :]]
    return NamedList([(number, list(places)), *(row for row in rows if any(row[1]))], passed_over)


def _is_header(cells: list[str]) -> bool:
    found = _places(cells)
    return sum(name in found for name in NEEDED) >= 2  # noqa: PLR2004 - a title may hold one such word


def _places(header: list[str]) -> dict[str, int]:
    """Return in which column each of the sheet's names stands: its own name goes before another word for it."""
    plain = [_plain(cell) for cell in header]
    found: dict[str, int] = {name: plain.index(name) for name in NAMES if name in plain}
    for place, word in enumerate(plain):
        if word in ALSO:
            found.setdefault(ALSO[word], place)
    if "name" not in found and "rider" in found:
        found["name"] = found.pop("rider")  # most lists head their names so; the rider's code is known to few
    return found


def _plain(text: str) -> str:
    return re.sub(r"[^\w#]+", " ", text.casefold()).strip()


def _cell(cells: list[str], place: int) -> str:
    return cells[place] if place < len(cells) else ""
