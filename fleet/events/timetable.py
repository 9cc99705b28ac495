"""A day's timetable as people write it: lines of text to times on track and back, every bad line named.

One line is one of ``9:00-9:20 Fast`` (a group has the track), ``9:00-9:20 Fast, Medium`` (both share it),
``9:00-12:00, 20 min each: Fast, Medium, Slow`` (in turn, again and again), ``12:00-13:00 break`` (nobody rides). Empty
lines and what begins with # are passed over. Times are the track's clock, also written as ``0900-0920``, ``9-10``, ``1:20 pm - 1:40 pm``;
the group may stand before them.
"""

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from itertools import cycle, groupby
from typing import Final
from zoneinfo import ZoneInfo

from fleet.events.models import Day, Group, Slot

MOST_LINES: Final = 300
MOST_SLOTS: Final = 400
LONGEST: Final = timedelta(hours=8)
DASH: Final = "\N{EN DASH}"
BREAK: Final = "(break|lunch|briefing)"
NOON: Final = 12
_TIME: Final = r"(\d{4}|\d{1,2}(?:[:.]\d{2})?)"
_HALF: Final = r"\s*([ap])\.?m\b\.?"
_DASH: Final = r"\s*(?:[-\u2013\u2014]|to\b)\s*"
_BETWEEN: Final = rf"(?:{_DASH}|\s+)"
_WHOSE: Final = r"\s*[,:]?\s*(?:(\d{1,3})\s*min(?:utes)?\s+each\b)?\s*:?\s*(.*)"
# Half days count only where both times name theirs: a group may be called AM.
_LINE_OF_HALVES: Final = re.compile(rf"{_TIME}{_HALF}{_BETWEEN}{_TIME}{_HALF}{_WHOSE}", re.IGNORECASE)
_LINE: Final = re.compile(rf"{_TIME}{_BETWEEN}{_TIME}{_WHOSE}", re.IGNORECASE)
_GROUP_FIRST: Final = re.compile(
    rf"(\D.*?)[\s,:]+({_TIME}(?:{_HALF})?{_DASH}{_TIME}(?:{_HALF})?)", re.IGNORECASE
)
_EXAMPLE: Final = "9:00-9:20 Fast"


@dataclass(frozen=True)
class PlannedSlot:
    """A time on track that a line asks for."""

    line: int
    group: Group
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class LineFault:
    """What is wrong with one line, and what would be right."""

    line: int
    sentence: str


@dataclass(frozen=True)
class Timetable:
    """A text as read: the slots of its good lines in order, and what is wrong with the others."""

    slots: list[PlannedSlot]
    faults: list[LineFault]


@dataclass(frozen=True)
class _Stretch:
    """One line's stretch of the day: from, to, and whose it is."""

    line: int
    starts_at: datetime
    ends_at: datetime
    turns_min: int
    names: str


class _WrongError(ValueError):
    """A line that cannot be taken; its text is the sentence."""


def read_timetable(text: str, *, day: Day, groups: Sequence[Group]) -> Timetable:
    """Read a day's timetable; a bad line brings no slots, and the good ones are read all the same."""
    slots: list[PlannedSlot] = []
    faults: list[LineFault] = []
    seen: list[_Stretch] = []
    lines = text.splitlines()
    if len(lines) > MOST_LINES:
        return Timetable([], [LineFault(MOST_LINES + 1, f"A timetable has at most {MOST_LINES} lines.")])
    for number, raw in enumerate(lines, start=1):
        line = " ".join(raw.replace(";", " ").split())
        if not line or line.startswith("#"):
            continue
        try:
            stretch = _stretch(number, line, day)
            found = _slots(stretch, groups)
            _refuse_clash(stretch, seen)
        except _WrongError as wrong:
            faults.append(LineFault(number, str(wrong)))
            continue
        seen.append(stretch)
        slots += found
    if len(slots) > MOST_SLOTS:
        faults.append(
            LineFault(0, f"This makes {len(slots)} times on track: a day has at most {MOST_SLOTS}.")
        )
    return Timetable(sorted(slots, key=lambda slot: (slot.starts_at, slot.line, slot.group.name)), faults)


def text_of(slots: Iterable[Slot], *, zone: str) -> str:
    """Return slots in order of their time as the text that makes them again, on a track's clock."""
    local = ZoneInfo(zone)
    lines = []
    for (starts_at, ends_at), some in groupby(slots, key=lambda slot: (slot.starts_at, slot.ends_at)):
        names = ", ".join(slot.group.name for slot in some)
        lines.append(f"{starts_at.astimezone(local):%H:%M}{DASH}{ends_at.astimezone(local):%H:%M} {names}")
    return "\n".join(lines)


def _stretch(number: int, line: str, day: Day) -> _Stretch:
    begins, ends, turns, names = _parts(line)
    starts_at = _moment(day, begins)
    ends_at = _moment(day, ends)
    if ends_at <= starts_at:
        raise _WrongError(
            "This ends before it begins: write both times by the 24-hour clock, such as 13:20-13:40."
        )
    if ends_at - starts_at > LONGEST and not turns and not _is_break(names):
        raise _WrongError("One time on track is longer than 8 hours: check both times.")
    if turns and not int(turns):
        raise _WrongError("A turn lasts 1 min or more, such as: 9:00-12:00, 20 min each: Fast, Slow.")
    if not names:
        raise _WrongError(f"No group stands after the times: write it as {_EXAMPLE}.")
    return _Stretch(number, starts_at, ends_at, int(turns) if turns else 0, names)


def _parts(line: str) -> tuple[str, str, str | None, str]:
    """Return a line's two times by the clock of 24 hours, the length of turns where it names one, and whose they are."""
    if first := _GROUP_FIRST.fullmatch(line):
        line = f"{first[2]} {first[1]}"
    if halves := _LINE_OF_HALVES.fullmatch(line):
        begins, half, ends, other_half, turns, names = halves.groups()
        return _of_24(begins, half), _of_24(ends, other_half), turns, names
    found = _LINE.fullmatch(line)
    if found is None:
        raise _WrongError(f"This does not begin with two times: write it as {_EXAMPLE}.")
    begins, ends, turns, names = found.groups()
    return _of_24(begins, ""), _of_24(ends, ""), turns, names


def _of_24(text: str, half: str) -> str:
    hour, minute = (
        (text[:2], text[2:]) if re.fullmatch(r"\d{4}", text) else re.split("[:.]", f"{text}:00")[:2]
    )
    if not half:
        return f"{hour}:{minute}"
    if not 1 <= int(hour) <= NOON:
        raise _WrongError(
            f"{text} {half.lower()}m is no time of the day: before noon and after it hours go from 1 to 12."
        )
    return f"{int(hour) % NOON + (NOON if half in 'pP' else 0)}:{minute}"


def _moment(day: Day, clock: str) -> datetime:
    zone = ZoneInfo(day.layout.track.time_zone)
    hour, _, minute = clock.partition(":")
    try:
        wall = datetime.combine(day.date, time(int(hour), int(minute)))
    except ValueError:
        raise _WrongError(f"{clock} is no time of the day: hours go to 23, minutes to 59.") from None
    moment = wall.replace(tzinfo=zone).astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) != wall:
        raise _WrongError(f"{wall:%H:%M} does not exist on this day: the clocks are put forward over it.")
    return moment


def _slots(stretch: _Stretch, groups: Sequence[Group]) -> list[PlannedSlot]:
    if _is_break(stretch.names):
        return []
    named = _groups(stretch.names, groups)
    if not stretch.turns_min:
        return [PlannedSlot(stretch.line, group, stretch.starts_at, stretch.ends_at) for group in named]
    turn = timedelta(minutes=stretch.turns_min)
    length = stretch.ends_at - stretch.starts_at
    if length % turn:
        over = (length % turn) // timedelta(minutes=1)
        raise _WrongError(
            f"{length // turn} turns of {stretch.turns_min} min leave {over} min over: let it end {over} min earlier, or "
            f"{stretch.turns_min - over} min later."
        )
    turns = cycle(named)
    starts = [stretch.starts_at + turn * place for place in range(length // turn)]
    return [PlannedSlot(stretch.line, next(turns), start, start + turn) for start in starts]


def _groups(names: str, groups: Sequence[Group]) -> list[Group]:
    by_name = {group.name.casefold(): group for group in groups}
    if whole := by_name.get(names.casefold()):  # a name may hold a comma itself
        return [whole]
    found: list[Group] = []
    for name in (part.strip() for part in names.split(",")):
        group = by_name.get(name.casefold())
        if group is None:
            raise _WrongError(_no_such_group(name, groups))
        if group in found:
            raise _WrongError(f"{group} stands twice on this line: name it once.")
        found.append(group)
    return found


def _no_such_group(name: str, groups: Sequence[Group]) -> str:
    known = [group.name for group in groups]
    if not known:
        return f"This event has no groups yet: add “{name[:40]}” to the event first."
    near = difflib.get_close_matches(name.casefold(), [one.casefold() for one in known], n=1)
    groups_are = f"he groups are {', '.join(known)}."
    if near:
        return f"There is no group “{name[:40]}”: did you mean {next(one for one in known if one.casefold() == near[0])}? T{groups_are}"
    return f"There is no group “{name[:40]}”: t{groups_are} Where nobody rides, write break."


def _refuse_clash(stretch: _Stretch, seen: Iterable[_Stretch]) -> None:
    for other in seen:
        if stretch.starts_at < other.ends_at and other.starts_at < stretch.ends_at:
            raise _WrongError(
                f"This overlaps line {other.line}: the track is taken then. Groups that share it stand on one line, with a "
                "comma between."
            )


def _is_break(names: str) -> bool:
    return re.match(rf"{BREAK}\b", names, re.IGNORECASE) is not None
