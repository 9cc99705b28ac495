"""Bridge from a pasted timing sheet to lap times in seconds, whatever stands beside them.

Lap times stand one below the other, alone or in one column of several, or all in one line: ``1:42.3`` or ``102.3``.
Columns are parted by tabs, semicolons, commas or blanks. A heading tells the column; without one it is the column of
times that are no clock running on and no part of another column's times.
"""

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from fleet.errors import Invalid

FIELD: Final = "lap_times"
SHORTEST_S: Final = 10.0
LONGEST_S: Final = 3600.0
MOST_LAPS: Final = 400
MOST_CHARACTERS: Final = 40_000
RIGHT: Final = "write a lap as 1:42.3 or 102.3, one a line"

_MINUTE_MARKS: Final = ":'\N{RIGHT SINGLE QUOTATION MARK}\N{PRIME}"
_SECOND_MARKS: Final = "\"|\N{RIGHT DOUBLE QUOTATION MARK}|\N{DOUBLE PRIME}|''"
_MINUTES: Final = re.compile(
    rf"(?:(\d{{1,2}}):)?(\d{{1,3}})[{_MINUTE_MARKS}](\d{{1,2}}(?:[.,]\d{{1,4}})?)(?:{_SECOND_MARKS})?s?"
)
_SECONDS: Final = re.compile(r"(\d{1,5}(?:[.,]\d{1,4})?)\s*s?")
_LAP_HEAD: Final = re.compile(
    r"\blap ?times?\b|^(?:lap|time|times|seconds|lap,? s)$|\blaptime", re.IGNORECASE
)
_OTHER_HEAD: Final = re.compile(
    r"sector|split|\bs\d\b|total|elapsed|gap|diff|delta|best|of day|clock|speed|behind", re.IGNORECASE
)
_BLANKS: Final = re.compile(r"\s+")


@dataclass(frozen=True)
class LapTimes:
    """What was understood of a pasted text: the lap times, and in words how they were found."""

    times_s: tuple[float, ...]
    found: str


@dataclass(frozen=True)
class _Line:
    number: int
    cells: list[str]


def read_lap_times(text: str) -> LapTimes:
    """Return the lap times of a pasted text; one that cannot be read is refused with its line."""
    if len(text) > MOST_CHARACTERS:
        raise Invalid(f"That is more than a stint's lap times: {RIGHT}.", field=FIELD)
    lines, mark = _cut(text)
    if not lines:
        return LapTimes((), "")
    if len(lines) == 1 and (told := _one_row(lines[0], mark)) is not None:
        return _checked(told, [lines[0].number] * len(told), "one line")
    head, rows = _head(lines)
    if not rows:
        raise Invalid(f"Line {lines[0].number} has words only and no lap follows: {RIGHT}.", field=FIELD)
    column, how = _column(head, rows, mark)
    times, numbers = [], []
    for row in rows:
        cell = row.cells[column].strip() if column < len(row.cells) else ""
        if not cell:
            continue
        seconds = seconds_of(cell, comma=mark != ",")
        if seconds is None:
            raise Invalid(
                f"Line {row.number}: “{cell[:30]}” is no lap time: {RIGHT}, or take the line out.",
                field=FIELD,
            )
        times.append(seconds)
        numbers.append(row.number)
    return _checked(times, numbers, how)


def seconds_of(cell: str, *, comma: bool = True) -> float | None:
    """Return the seconds of a time of day or lap, or of a bare number, and nothing for anything else."""
    text = cell.strip().strip('"').strip()
    if not comma and "," in text:
        return None
    if found := _MINUTES.fullmatch(text):
        hours, minutes, seconds = found.groups()
        rest = float(seconds.replace(",", "."))
        if rest >= 60 or (hours and int(minutes) >= 60):  # noqa: PLR2004 -- seconds in a minute
            return None
        return 3600 * int(hours or 0) + 60 * int(minutes) + rest
    if found := _SECONDS.fullmatch(text):
        return float(found[1].replace(",", "."))
    return None


def as_lap(seconds: float) -> str:
    """Return a lap time as a timing sheet writes it."""
    minutes, rest = divmod(round(seconds * 1000), 60_000)
    text = f"{minutes}:{rest / 1000:06.3f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def _cut(text: str) -> tuple[list[_Line], str]:
    """Return the lines with their numbers, cut into cells, and what parts the cells."""
    numbered = [
        (number, line.replace("\N{ZERO WIDTH NO-BREAK SPACE}", "").strip(" \r\x00"))
        for number, line in enumerate(text.splitlines(), start=1)
    ]
    told = [(number, line) for number, line in numbered if line.strip()]
    mark = _mark([line for _, line in told])
    return [
        _Line(number, [cell.strip() for cell in (line.split(mark) if mark else _BLANKS.split(line.strip()))])
        for number, line in told
    ], mark


def _mark(lines: list[str]) -> str:
    """Return what parts the cells: a tab, a semicolon, a comma that is no decimal one, or else blanks."""
    for mark in ("\t", ";"):
        if any(mark in line for line in lines):
            return mark
    if any(re.search(r",\s|,\D|\D,|\.\d+,|,\d*:|,\d+,", line) for line in lines):
        return ","
    return ""


def _one_row(line: _Line, mark: str) -> list[float] | None:
    """Return the times of one line that holds nothing but lap times."""
    read = [seconds_of(cell, comma=mark != ",") for cell in line.cells if cell]
    told = [one for one in read if one is not None and one >= SHORTEST_S]
    return told if len(told) == len(read) else None


def _head(lines: list[_Line]) -> tuple[list[str], list[_Line]]:
    """Return the heading, empty where there is none, and the rows under it."""
    for place, line in enumerate(lines):
        if any(cell and seconds_of(cell) is not None for cell in line.cells):
            return (lines[place - 1].cells if place else []), lines[place:]
    return lines[-1].cells, []


def _column(head: list[str], rows: list[_Line], mark: str) -> tuple[int, str]:
    """Return the place of the column of lap times, and in words how it was found."""
    width = max(len(row.cells) for row in rows)
    if width == 1:
        return 0, "one time a line"
    named = [
        place
        for place, cell in enumerate(head)
        if _LAP_HEAD.search(cell.strip('" ')) and not _OTHER_HEAD.search(cell)
    ]
    read = {
        place: [seconds_of(row.cells[place], comma=mark != ",") for row in rows if place < len(row.cells)]
        for place in range(width)
    }
    times = [place for place in named if _are_times(read[place])] if len(head) == width else []
    if len(times) == 1:
        heading = head[times[0]].strip('" ')
        return times[0], f"the column “{heading[:30]}”"
    free = [
        place
        for place in range(width)
        if _are_times(read[place]) and not (len(head) == width and _OTHER_HEAD.search(head[place]))
    ]
    sheet = {place: _with_colon(rows, place) for place in free}
    free = [place for place in free if sheet[place]] or [
        place for place in free if any(one is not None and one % 1 for one in read[place])
    ]
    free = [place for place in free if not _runs_on(read[place])] or free
    longest = [place for place in free if all(_covers(read[place], read[other]) for other in free)]
    if len(longest) != 1:
        said = (
            "no column is" if not free else f"columns {' and '.join(str(one + 1) for one in free)} could be"
        )
        raise Invalid(
            f"Line {rows[0].number}: {said} the lap times: paste their column alone, or with the heading “Lap time”.",
            field=FIELD,
        )
    return longest[0], f"column {longest[0] + 1} of {width}"


def _are_times(read: list[float | None]) -> bool:
    """Return whether most of a column are times a lap may take."""
    told = [one for one in read if one is not None and one >= SHORTEST_S]
    return 2 * len(told) > len(read)


def _with_colon(rows: list[_Line], place: int) -> bool:
    cells = [row.cells[place] for row in rows if place < len(row.cells)]
    return any(_MINUTES.fullmatch(cell.strip('" ')) for cell in cells)


def _runs_on(read: list[float | None]) -> bool:
    """Return whether a column is a clock that runs on: never back, and in the end past two of its steps."""
    told = [one for one in read if one is not None]
    if len(told) < 3:  # noqa: PLR2004 -- two times say nothing of a course
        return False
    steps = [after - before for before, after in pairwise(told)]
    return min(steps) >= SHORTEST_S


def _covers(longer: list[float | None], other: list[float | None]) -> bool:
    """Return whether a column holds the longer time in every row, as a lap does over its parts."""
    return all(a is None or b is None or a >= b for a, b in zip(longer, other, strict=False))


def _checked(times: list[float], numbers: list[int], how: str) -> LapTimes:
    for seconds, number in zip(times, numbers, strict=True):
        if not SHORTEST_S <= seconds <= LONGEST_S:
            raise Invalid(
                f"Line {number}: {as_lap(seconds)} is no lap time, which lies between 10 seconds and an hour: {RIGHT}, "
                "or take the line out.",
                field=FIELD,
            )
    if len(times) > MOST_LAPS:
        raise Invalid(
            f"{len(times)} laps are more than one stint has: paste the laps of this stint.", field=FIELD
        )
    return LapTimes(tuple(round(one, 3) for one in times), how if times else "")
