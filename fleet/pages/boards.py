"""A bulletin as people read it: a row for each tire, a column for each group, or for each part of the day where those differ."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final, Protocol, TypeAlias
from zoneinfo import ZoneInfo

from fleet.pages.units import SPACE, clock
from fleet.pressures.told import ToldPart, lines_of, parts_of

SOME_ROWS: Final = 12
MANY_ROWS: Final = 22
DASH: Final = "\N{EN DASH}"

Line: TypeAlias = dict[str, Any]
Cell: TypeAlias = Line | None


@dataclass
class BoardRow:
    """One tire on the board: its size, the groups it is for where columns are parts of the day, and a line for each column."""

    spec: str
    name: str
    axle: str
    size: str
    compound: str
    uses_warmers: bool
    groups: list[str]
    cells: list[Cell]
    hot_targets_kpa: set[float] = field(default_factory=set)

    def is_of(self, other: "BoardRow") -> bool:
        """Return whether another row is of the same tire."""
        return (self.spec, self.uses_warmers) == (other.spec, other.uses_warmers)


@dataclass
class BoardTires:
    """One tire line on the board with its rows, front before rear."""

    name: str
    rows: list[BoardRow] = field(default_factory=list)


@dataclass(frozen=True)
class Column:
    """A column: its name, and where it is for some parts of the day their names, time and weather."""

    name: str
    parts: tuple[str, ...] = ()
    when: str = ""
    weather: str = ""


@dataclass(frozen=True)
class Board:
    """A bulletin as people read it; ``has_parts`` where its columns are parts of the day and not groups."""

    columns: list[Column]
    tires: list[BoardTires]
    has_parts: bool
    has_limits: bool
    is_thin: bool

    @property
    def length(self) -> str:
        """Return in a word how many rows a screen has to hold."""
        rows = sum(len(one.rows) for one in self.tires)
        return "is-longer" if rows > MANY_ROWS else "is-long" if rows > SOME_ROWS else ""


def board_of(content: Mapping[str, Any], parts: Sequence[ToldPart] | None = None) -> Board:
    """Return a bulletin by tire, or some of its parts; parts in which everybody sets the same stand as one.

    Where nothing is left to tell apart, groups have the columns; else parts have them, and groups that set the same stand
    in one row.
    """
    parts = parts_of(content) if parts is None else parts
    lines = [line for part in parts for line in lines_of(content, part)]
    rows = _rows(lines, [part.name for part in parts])
    runs = _runs(rows, len(parts))
    for row in rows:
        row.cells = [_as_one(row.cells[place] for place in run) for run in runs]
    has_parts = len(runs) > 1
    if has_parts:
        columns = [_column([parts[place] for place in run], content["time_zone"]) for run in runs]
        rows = _groups_joined(rows)
    else:
        groups = list(dict.fromkeys(line["group"] for line in lines))
        columns = [Column(group) for group in groups]
        rows = _groups_across(rows, groups)
    return Board(
        columns,
        _by_tires(rows),
        has_parts,
        has_limits=any(line["limit_hit"] for line in lines),
        is_thin=any(line["readings"] == 0 for line in lines),
    )


class NamedTime(Protocol):
    """A part of a day: its name, and from when to when."""

    @property
    def name(self) -> str:
        """Return its name."""

    @property
    def starts_at(self) -> datetime:
        """Return when it begins."""

    @property
    def ends_at(self) -> datetime:
        """Return when it ends."""


def when_of(first: NamedTime, zone: str, last: NamedTime | None = None) -> str:
    """Return the time of a part of the day in words, or of all from one to another; nothing for the whole day.

    An hour says it in its name, which begins with a figure.
    """
    starts_at = first.starts_at.astimezone(ZoneInfo(zone))
    ends_at = (last or first).ends_at.astimezone(ZoneInfo(zone))
    begins, ends = _is_midnight(starts_at), _is_midnight(ends_at)
    if not first.name or first.name[0].isdigit() or (begins and ends):
        return ""
    if begins:
        return f"to {clock(ends_at, zone)}"
    if ends:
        return f"from {clock(starts_at, zone)}"
    return f"{clock(starts_at, zone)}{DASH}{clock(ends_at, zone)}"


def span_of(values: Iterable[float]) -> str:
    """Return whole figures from the lowest to the highest, one where they are the same."""
    whole = sorted({f"{value:.0f}" for value in values}, key=float)
    return whole[0] if len(whole) == 1 else f"{whole[0]}{DASH}{whole[-1]}"


def _is_midnight(moment: datetime) -> bool:
    return (moment.hour, moment.minute) == (0, 0)


def _rows(lines: Iterable[Line], parts: list[str]) -> list[BoardRow]:
    """Return a row for each tire and group, its cells the parts of the day."""
    rows: dict[tuple[str, bool, str], BoardRow] = {}
    for line in sorted(lines, key=lambda one: (one["maker"], one["line"], one["axle"], one["size"])):
        key = (line["spec"], line["uses_warmers"], line["group"])
        if key not in rows:
            rows[key] = BoardRow(
                spec=line["spec"],
                name=f"{line['maker']} {line['line']}",
                axle=line["axle"],
                size=line["size"],
                compound=line["compound"],
                uses_warmers=line["uses_warmers"],
                groups=[line["group"]],
                cells=[None] * len(parts),
            )
        rows[key].cells[parts.index(line.get("part", ""))] = line
        rows[key].hot_targets_kpa.add(line["hot_target_kpa"])
    return list(rows.values())


def _runs(rows: list[BoardRow], parts: int) -> list[range]:
    """Return the parts that follow each other and in which every row says the same."""
    runs = [range(1)]
    for place in range(1, parts):
        if all(_alike(row.cells[before], row.cells[place]) for row in rows for before in runs[-1]):
            runs[-1] = range(runs[-1].start, place + 1)
        else:
            runs.append(range(place, place + 1))
    return runs


def _alike(one: Cell, other: Cell) -> bool:
    """Return whether two lines say the same; one that is not there says nothing else."""
    return one is None or other is None or _said(one) == _said(other)


def _said(line: Line) -> tuple[object, ...]:
    is_by_hand = line.get("computed_kpa") is not None
    return line["shown_kpa"], line["limit_hit"], is_by_hand, line.get("is_beyond_range", False)


def _as_one(cells: Iterable[Cell]) -> Cell:
    """Return lines that say the same as one, with the widest span and the fewest readings."""
    found = [cell for cell in cells if cell]
    if not found:
        return None
    return found[0] | {
        "low_kpa": min(line["low_kpa"] for line in found),
        "high_kpa": max(line["high_kpa"] for line in found),
        "readings": min(line["readings"] for line in found),
    }


def _column(parts: Sequence[ToldPart], zone: str) -> Column:
    first, last = parts[0], parts[-1]
    when = when_of(first, zone, last)
    name = first.name
    if first is not last:
        begins = first.name.split(DASH)[0]
        ends = last.ends_at.astimezone(ZoneInfo(zone))
        is_hours = begins[:1].isdigit()
        if not is_hours:
            name = f"{first.name} and {last.name}"
        else:
            name = f"from {begins}" if _is_midnight(ends) else f"{begins}{DASH}{clock(ends, zone)}"
    air, surface = (span_of(part.conditions[name] for part in parts) for name in ("air_c", "track_surface_c"))
    return Column(name, tuple(part.name for part in parts), when, f"{air}/{surface}{SPACE}°C")


def _groups_joined(rows: Iterable[BoardRow]) -> list[BoardRow]:
    """Return the rows with groups in one that set the same on the same tire all day."""
    kept: list[BoardRow] = []
    for row in rows:
        same = next((one for one in kept if one.is_of(row) and _all_alike(one, row)), None)
        if same is None:
            kept.append(row)
            continue
        same.groups += row.groups
        same.hot_targets_kpa |= row.hot_targets_kpa
        same.cells = [_as_one(pair) for pair in zip(same.cells, row.cells, strict=True)]
    return kept


def _all_alike(one: BoardRow, other: BoardRow) -> bool:
    return all(_alike(*pair) for pair in zip(one.cells, other.cells, strict=True))


def _groups_across(rows: Iterable[BoardRow], groups: list[str]) -> list[BoardRow]:
    """Return a row for each tire, its cells the groups."""
    kept: list[BoardRow] = []
    for row in rows:
        same = next((one for one in kept if one.is_of(row)), None)
        if same is None:
            same = replace(row, groups=[], cells=[None] * len(groups))
            kept.append(same)
        same.cells[groups.index(row.groups[0])] = row.cells[0]
        same.hot_targets_kpa |= row.hot_targets_kpa
    return kept


def _by_tires(rows: Iterable[BoardRow]) -> list[BoardTires]:
    found: dict[str, BoardTires] = {}
    for row in rows:
        found.setdefault(row.name, BoardTires(row.name)).rows.append(row)
    return list(found.values())
