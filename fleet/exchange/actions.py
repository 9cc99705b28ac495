"""Bringing a folder in: things file by file, then the dated facts in the order in which they were recorded."""

import difflib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, TypeAlias

from django.db import transaction

from fleet.celery import quiet
from fleet.exchange.columns import Ending
from fleet.exchange.entering import Entering
from fleet.exchange.faults import Fault, Outcome, Report
from fleet.exchange.folder import BY_NAME, SHEETS, rests_on
from fleet.exchange.known import Known
from fleet.exchange.reading import Line, Reading, read_sheet
from fleet.records import CLOCK_SLACK
from fleet.revisions import raised_together

Step: TypeAlias = tuple[tuple[Any, ...], str, Line, Ending | None]
Progress: TypeAlias = Callable[[int, int], None]


class Rollback(Exception):  # noqa: N818 - a state of a transaction, caught right outside it
    """Something in the file is wrong, so nothing of it is kept."""


@dataclass
class Import:
    """One import of one folder: its files as read, and what has become of them so far."""

    at: datetime
    progress: Progress
    readings: dict[str, Reading] = field(default_factory=dict)
    outcomes: dict[str, Outcome] = field(default_factory=dict)
    known: Known = field(default_factory=Known)
    done: int = 0

    def read(self, folder: Path) -> None:
        """Read every file that is there."""
        for sheet in SHEETS:
            path = folder / sheet.file
            if path.is_file():
                reading = read_sheet(path, sheet)
                self._refuse_future(reading)
                self.readings[sheet.name] = reading
                self.outcomes[sheet.name] = Outcome(
                    sheet.file, rows=len(reading.lines), faults=sorted(reading.faults)
                )

    def enter_things(self) -> None:
        """Enter the files without dates, each in a transaction of its own."""
        for name, reading in self.readings.items():
            if not reading.sheet.phase and self._is_ready(name):
                self._try([name])

    def enter_facts(self) -> None:
        """Replay the dated files together; a bad one is left out and the others are replayed without it."""
        while True:
            names = [name for name, one in self.readings.items() if one.sheet.phase and self._is_ready(name)]
            if not names or self._try(names):
                return

    def _try(self, names: list[str]) -> bool:
        before = self.done
        try:
            with transaction.atomic(), raised_together():
                self._replay(names)
        except Rollback:
            self.known = Known()
            self.done = before
            self._keep_roots(names)
            return False
        return True

    def _replay(self, names: list[str]) -> None:
        files = {}
        for name in names:
            reading = self.readings[name]
            outcome = self.outcomes[name] = Outcome(reading.sheet.file, rows=len(reading.lines))
            files[name] = Entering(reading.sheet, outcome, self.known)
            files[name].look_up(reading.lines)
        for _, name, line, ending in self._steps(names):
            if ending is not None:
                files[name].end(line, ending, at=line.cells[ending.moment])
                continue
            files[name].enter(line, at=line.cells.get("recorded_at") or self.at)
            self.done += 1
            self.progress(self.done, self.total)
        if any(self.outcomes[name].faults for name in names):
            raise Rollback

    def _steps(self, names: list[str]) -> list[Step]:
        """Return what is done in which order: as recorded, where every row says when that was, else by phase.

        Within one moment the endings of older rows come first, then phase by phase in the order of events; what ended
        at the moment it was recorded ends at once, and a removal precedes a fitting of that very moment.
        """
        lines = [(self.readings[name].sheet, line) for name in names for line in self.readings[name].lines]
        is_history = all(line.cells.get("recorded_at") for _, line in lines)
        steps: list[Step] = []
        for sheet, line in lines:
            recorded: datetime = line.cells["recorded_at"] if is_history else self.at
            happened = line.cells[sheet.happened] if sheet.happened else recorded
            place = (sheet.phase, happened, -SHEETS.index(sheet), line.number)
            steps.append(((recorded, 1, *place, 0), sheet.name, line, None))
            for count, ending in enumerate(sheet.endings, start=1):
                ended: datetime | None = line.cells[ending.moment]
                if ended is not None:
                    order = (ended, 0) if ended > recorded else (recorded, 1)
                    steps.append(((*order, *place, count), sheet.name, line, ending))
        return sorted(steps, key=lambda step: step[0])

    def _keep_roots(self, names: list[str]) -> None:
        """Keep the faults of the files that are bad by themselves; those that build on them wait."""
        bad = {name for name in names if self.outcomes[name].faults}
        for name in names:
            outcome = self.outcomes[name]
            outcome.added = outcome.ended = outcome.there_already = 0
            if name in bad and rests_on(BY_NAME[name]) & bad:
                outcome.faults = []

    def _is_ready(self, name: str) -> bool:
        outcome = self.outcomes[name]
        needed = rests_on(BY_NAME[name])
        missing = [file for file, one in self.outcomes.items() if file in needed and not one.is_done]
        outcome.waits_for = f"{missing[0]}.csv" if missing else ""
        return outcome.is_done

    def _refuse_future(self, reading: Reading) -> None:
        moments = ["recorded_at", *(ending.moment for ending in reading.sheet.endings)]
        for line in reading.lines:
            for name in moments:
                moment = line.cells.get(name)
                if moment is not None and moment > self.at + CLOCK_SLACK:
                    reading.wrong(
                        line.number,
                        name,
                        f"{moment:%Y-%m-%d %H:%M %Z} has not come yet: give a time up to now, or leave it empty.",
                    )

    @property
    def total(self) -> int:
        """Return how many rows the folder holds."""
        return sum(len(reading.lines) for reading in self.readings.values())


def import_folder(folder: Path, *, at: datetime, progress: Progress = lambda _done, _total: None) -> Report:
    """Bring a folder in: all or nothing of each file, in the order in which the files build on one another.

    A file with a bad row is left out whole, and so is every file that builds on it. What is stored already is
    recognised by its code or key and left as it is.
    """
    work = Import(at=at, progress=progress)
    work.read(folder)
    with quiet():
        work.enter_things()
        work.enter_facts()
    return Report(outcomes=list(work.outcomes.values()), stray=_stray(folder))


def _stray(folder: Path) -> list[Fault]:
    names = [sheet.file for sheet in SHEETS]
    return [
        Fault(path.name, 0, "", f"This is no file of an exchange folder{_meant(path.name, names)}.")
        for path in sorted(folder.glob("*.csv"))
        if path.name not in names
    ]


def _meant(name: str, names: list[str]) -> str:
    close = difflib.get_close_matches(name, names, n=1)
    return f": rename it to {close[0]}, if that is meant" if close else f": the files are {', '.join(names)}"
