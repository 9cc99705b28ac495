"""One file of what is held about somebody: how a row and a value are written."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any, Final

from django.db.models import QuerySet

from fleet.exchange.kinds import MOMENT, NUMBER, YES_NO
from fleet.exchange.reading import escaped
from fleet.privacy.holder import Holder

AT_A_TIME: Final = 500
AS_WRITTEN: Final[tuple[tuple[Any, Callable[[Any], str]], ...]] = (
    (bool, YES_NO.write),
    (float, NUMBER.write),
    (datetime, MOMENT.write),
    (date, date.isoformat),
    ((list, dict), partial(json.dumps, ensure_ascii=False, sort_keys=True)),
)


@dataclass(frozen=True)
class Table:
    """One file: the rows held about somebody, and which columns of them are shown."""

    name: str
    about: str
    rows: Callable[[Holder], "QuerySet[Any]"]
    columns: tuple[str, ...]

    @property
    def header(self) -> list[str]:
        """Return the names of the columns as they stand in the file."""
        return [name.replace("__", "_") for name in self.columns]

    def records(self, holder: Holder) -> Iterator[list[str]]:
        """Return the rows as written, read from the database some at a time."""
        found = self.rows(holder).values_list(*self.columns)
        for row in found.iterator(chunk_size=AT_A_TIME):
            yield [written(value) for value in row]


def written(value: Any) -> str:
    """Return one value as it stands in a file; what a spreadsheet would run as a formula is marked as text."""
    if value is None:
        return ""
    for kind, write in AS_WRITTEN:
        if isinstance(value, kind):
            return write(value)
    return escaped(str(value))
