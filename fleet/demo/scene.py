"""The rows of the demonstration as they come into being, and the chance they are drawn with."""

import csv
import uuid
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.random import Generator

from fleet.exchange.folder import SHEETS
from fleet.exchange.writing import cell

SEED: Final = 1871
NAMESPACE: Final = uuid.UUID("7d2c1f54-51a6-4d0e-9a53-2f5f0c3a8e11")
LETTERS: Final = "ABCDEFGHJKLMNPRTUVWXY346789"


@dataclass
class Scene:
    """Everything written so far, file by file, relative to the day the demonstration is loaded."""

    today: date
    rng: Generator = field(default_factory=lambda: np.random.default_rng(SEED))
    rows: dict[str, list[dict[str, Any]]] = field(default_factory=lambda: defaultdict(list))

    def add(self, sheet: str, **cells: Any) -> dict[str, Any]:
        """Add a row to a file."""
        self.rows[sheet].append(cells)
        return cells

    def fact(self, sheet: str, *, recorded_at: datetime, **cells: Any) -> uuid.UUID:
        """Add a dated row with a key of its own, which is returned."""
        key = uuid.uuid5(NAMESPACE, f"{self.today} {sheet} {len(self.rows[sheet])}")
        self.add(sheet, key=key, recorded_at=recorded_at, **cells)
        return key

    def day(self, offset: int) -> date:
        """Return the date some days from today."""
        return self.today + timedelta(days=offset)

    def label(self) -> str:
        """Return the code of a tire's label."""
        return "".join(self.rng.choice(list(LETTERS), 8))

    def chance(self, share: float) -> bool:
        """Return yes in this share of cases."""
        return bool(self.rng.random() < share)

    def between(self, low: float, high: float) -> float:
        """Return a number between two others."""
        return float(self.rng.uniform(low, high))

    def about(self, middle: float, spread: float) -> float:
        """Return a number scattered normally about another."""
        return float(self.rng.normal(middle, spread))

    def pick(self, options: Any) -> Any:
        """Return one of several things."""
        return options[int(self.rng.integers(len(options)))]

    def write(self, folder: Path) -> None:
        """Write the rows as an exchange folder."""
        folder.mkdir(parents=True, exist_ok=True)
        for sheet in SHEETS:
            with (folder / sheet.file).open("w", encoding="utf-8", newline="") as file:
                writer = csv.writer(file)
                writer.writerow([column.name for column in sheet.columns])
                for row in self.rows[sheet.name]:
                    writer.writerow([cell(column, row.get(column.name)) for column in sheet.columns])


def minutes(count: float) -> timedelta:
    """Return so many minutes, in whole seconds."""
    return timedelta(seconds=round(60 * count))


def midnight(day: date) -> datetime:
    """Return the beginning of a date, in UTC."""
    return datetime.combine(day, time(0, 0), UTC)
