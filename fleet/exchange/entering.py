"""Entering one row: what it points to is found, the action is called, and what was there already is compared."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.errors import AlreadyVoided, Refusal
from fleet.exchange.columns import Column, Ending, Identity, Row, Sheet
from fleet.exchange.faults import Fault, Outcome
from fleet.exchange.folder import bringing
from fleet.exchange.known import SHELVES, Known
from fleet.exchange.reading import Line

CLOSE_ENOUGH: Final = 1e-3
AT_A_TIME: Final = 500


class Unresolved(Exception):  # noqa: N818 - a state of a row, caught where its faults are collected
    """A cell that points to nothing."""

    def __init__(self, column: str, sentence: str) -> None:
        super().__init__(sentence)
        self.column = column
        self.sentence = sentence


@dataclass
class Entering:
    """The entering of one file's rows within a transaction."""

    sheet: Sheet
    outcome: Outcome
    known: Known
    stored: dict[Identity, Row] = field(default_factory=dict)
    rows: dict[int, Row] = field(default_factory=dict)
    fresh: set[int] = field(default_factory=set)

    def look_up(self, lines: Iterable[Line]) -> None:
        """Read what is stored of these rows already."""
        rows = self.sheet.rows()
        if not self.sheet.is_fact:
            self.stored = {self.sheet.identity_of(self.sheet.cells_of(row)): row for row in rows}
            return
        keys = iter([line.cells["key"] for line in lines])
        while some := list(islice(keys, AT_A_TIME)):
            self.stored.update({(row.pk,): row for row in rows.filter(pk__in=some)})

    def enter(self, line: Line, *, at: datetime) -> None:
        """Add one row, or recognise it; whatever is wrong becomes a fault of the file."""
        stored = self.stored.get(self.sheet.identity_of(line.cells))
        if stored is not None:
            self._compare(line, stored)
            self.rows[line.number] = stored
            return
        try:
            row = self._add(line, at)
        except Unresolved as error:
            self._fault(line, error.column, error.sentence)
        except Refusal as refusal:
            self._fault(line, self.sheet.named_by(refusal.field), refusal.sentence)
        except ValidationError as error:
            name, sentences = next(iter(error.message_dict.items()))
            self._fault(line, self.sheet.named_by(name), " ".join(sentences))
        else:
            self.rows[line.number] = row
            self.fresh.add(line.number)
            self.outcome.added += 1

    def end(self, line: Line, ending: Ending, *, at: datetime) -> None:
        """Bring what came over a row later (a voiding, a lifting), unless it came over it before."""
        row = self.rows.get(line.number)
        if row is None or self.sheet.column(ending.moment).of(row) is not None:
            return
        try:
            ending.end(row, at, line.cells[ending.reason] if ending.reason else "")
        except AlreadyVoided:
            return
        except Refusal as refusal:
            self._fault(line, ending.moment, refusal.sentence)
            return
        if line.number not in self.fresh:
            self.outcome.ended += 1

    def _add(self, line: Line, at: datetime) -> Row:
        sheet = self.sheet
        given = {column.keyword: self._resolved(line, column) for column in sheet.columns if column.keyword}
        if sheet.phase:
            row = sheet.add(at=at, **given)
        else:
            with transaction.atomic():
                row = sheet.add(at=at, **given)
                if sheet.settle is not None:
                    sheet.settle(row, line.cells)
        if sheet.shelf:
            self.known.put(sheet.shelf, row)
        for shelf, attribute in sheet.brings:
            self.known.put(shelf, getattr(row, attribute))
        return row

    def _resolved(self, line: Line, column: Column) -> Any:
        value = line.cells[column.name]
        if not column.refers or value in {None, ""}:
            return value
        identity = (*(line.cells[name] for name in column.also), value)
        found = self.known.find(column.refers, identity)
        if found is None:
            shown = " ".join(str(part) for part in identity)
            raise Unresolved(
                column.name,
                f"There is no {SHELVES[column.refers].word} {shown!r} in the service or in "
                f"{bringing(column.refers)}: add it there, or correct the cell.",
            )
        return found

    def _compare(self, line: Line, stored: Row) -> None:
        for column in self.sheet.columns:
            if column.living or column.name not in line.given:
                continue
            there, here = column.of(stored), line.cells[column.name]
            if not same(there, here):
                self._fault(
                    line,
                    column.name,
                    f"This row is stored already with {_shown(column, there)}, not {_shown(column, here)}: an import "
                    "adds and never changes. Correct the cell, or give the new row its own "
                    f"{' and '.join(self.sheet.identity)}.",
                )
                return
        self.outcome.there_already += 1

    def _fault(self, line: Line, column: str, sentence: str) -> None:
        self.outcome.faults.append(Fault(self.sheet.file, line.number, column, sentence))


def same(there: Any, here: Any) -> bool:
    """Return whether a stored value is the one given, but for rounding, case and spaces around it."""
    if isinstance(there, float) and isinstance(here, int | float):
        return math.isclose(there, here, rel_tol=0, abs_tol=CLOSE_ENOUGH)
    if isinstance(there, str) and isinstance(here, str):
        return there.strip().casefold() == here.strip().casefold()
    return bool(there == here)


def _shown(column: Column, value: Any) -> str:
    return "nothing" if value in {None, ""} else repr(column.kind.write(value))
