"""The hours of a forecast as people and services write them, turned into what its sheet reads."""

import re
from collections.abc import Callable
from datetime import date, datetime, time
from typing import Final
from zoneinfo import ZoneInfo

from fleet.errors import Invalid
from fleet.events.models import Day
from fleet.exchange.kinds import NUMBER, Kind
from fleet.exchange.uploads import Records
from fleet.quantities import AIR_PRESSURE, TEMPERATURE

KPA_PER_HPA: Final = 0.1
FAHRENHEIT: Final = TEMPERATURE["F"].stored
OTHER_UNITS: Final[dict[str, tuple[str, Callable[[float], float]]]] = {
    "air_f": ("air_c", FAHRENHEIT),
    "dew_f": ("dew_c", FAHRENHEIT),
    "track_f": ("track_c", FAHRENHEIT),
    "qnh_inhg": ("qnh_hpa", lambda inches: AIR_PRESSURE["inHg"].stored(inches) / KPA_PER_HPA),
}
NOON: Final = 12
_TYPED: Final = re.compile(r"(\d{1,2})(?:[:.h]?(\d\d))?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE)
_DATED: Final = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\s*\d.*")
_COMMA: Final = re.compile(r"[+-]?\d+,\d+")


def _clock(text: str) -> time:
    typed = _TYPED.fullmatch(text.strip())
    try:
        if typed is None:
            found = time.fromisoformat(text.strip().zfill(5))
        else:
            found = time(_hour(int(typed[1]), typed[3]), int(typed[2] or 0))
    except ValueError:
        raise ValueError(f"{text!r} is no time of the day") from None
    if found.tzinfo is not None:
        raise ValueError(f"{text!r} names a time zone")
    return found


def _hour(hour: int, half: str | None) -> int:
    if not half:
        return hour
    if not 1 <= hour <= NOON:
        raise ValueError("no hour of half a day")
    return hour % NOON + (NOON if half in "pP" else 0)


def number_of(text: str) -> float:
    """Return a number as typed, with a decimal point or a decimal comma."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    found: float = NUMBER.parse(plain.replace(",", ".") if _COMMA.fullmatch(plain) else text)
    return found


def decimal(example: str) -> Kind:
    """Return the kind of a cell with a number that is typed with a point or a comma."""
    return Kind("number", f"a number without its unit, such as {example}", number_of)


CLOCK: Final = Kind("time of day", "a time of the track's clock, such as 9:00 or 14:30", _clock)


def hours_of(records: Records, *, day: Day) -> Records:
    """Return the rows of a list that are about a day: columns by the sheet's names and units, times without their date.

    Raises
    ------
    Invalid
        If every row names another date.
    """
    (first, header), *rest = records
    names = [name.casefold() for name in header]
    turned = {place: OTHER_UNITS[name] for place, name in enumerate(names) if name in OTHER_UNITS}
    known = [turned[place][0] if place in turned else name for place, name in enumerate(names)]
    found: Records = []
    others: set[date] = set()
    for number, cells in rest:
        local = [
            _local(cell, day) if known[at : at + 1] == ["time"] else None for at, cell in enumerate(cells)
        ]
        moment = next((one for one in local if one), None)
        if moment is not None and moment.date() != day.date:
            others.add(moment.date())
            continue
        row = [_turned(cell, turned.get(at)) for at, cell in enumerate(cells)]
        found.append(
            (number, [f"{one:%H:%M}" if one else cell for one, cell in zip(local, row, strict=True)])
        )
    if others and not found:
        raise Invalid(
            f"No hour of this list is on {day.date:%a %d %b %Y}: it is about {min(others):%a %d %b %Y}"
            f"{'' if len(others) == 1 else f' to {max(others):%a %d %b %Y}'}. Send the hours of the day, or choose the other day."
        )
    return [(first, known), *found]


def _local(cell: str, day: Day) -> datetime | None:
    """Return the track's date and time of a cell that holds both, whichever zone it names."""
    if not _DATED.fullmatch(cell):
        return None
    try:
        found = datetime.fromisoformat(cell)
    except ValueError:
        return None
    return found.astimezone(ZoneInfo(day.layout.track.time_zone)) if found.tzinfo else found


def _turned(cell: str, to: tuple[str, Callable[[float], float]] | None) -> str:
    try:
        return f"{to[1](number_of(cell)):.3f}" if to and cell else cell
    except ValueError:
        return cell  # the reading says what is wrong with it
