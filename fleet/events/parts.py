"""A day in the parts it is guided by: what is left of it, each part with the weather that holds for it."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from itertools import groupby
from typing import Final, Protocol, TypeVar
from zoneinfo import ZoneInfo

from fleet.events.models import Conditions, Day, DayParts, Slot
from fleet.events.queries import kept_conditions, nearest_to, weather_now

MIDDAY_FROM: Final = time(11)  # common practice, no published source: so do timetables call these hours
AFTERNOON_FROM: Final = time(14)  # common practice, no published source: as above
USUAL_HOURS: Final = (time(9), time(17))  # common practice, no published source: taken where no slot is known
NAMES: Final = ("morning", "midday", "afternoon")


@dataclass(frozen=True)
class _Cut:
    """One part of a day without its weather: its name, its time, and when it is ridden in."""

    name: str
    starts_at: datetime
    ends_at: datetime
    ridden_from: datetime
    ridden_to: datetime

    @property
    def middle(self) -> datetime:
        """Return the middle of the time it is ridden in."""
        return self.ridden_from + (self.ridden_to - self.ridden_from) / 2

    @property
    def hours_ridden(self) -> float:
        """Return how long the part is ridden in."""
        return (self.ridden_to - self.ridden_from).total_seconds() / 3600


@dataclass(frozen=True)
class DayPart(_Cut):
    """One part of a day with the groups that ride then, and its weather.

    The first part of a day begins at midnight and the last one ends there. The name is empty where nothing tells what is
    left of the day apart.
    """

    groups: frozenset[uuid.UUID]
    conditions: Conditions


def parts_ahead(day: Day, *, at: datetime) -> list[DayPart]:
    """Return the parts of a day that are not over, each with its weather; the last one stays, and without weather there is none.

    The part at hand goes by the weather in force, which a fresh observation is; those to come by what is known nearest to
    their middle. Parts that rest on the same weather are one: nothing is told apart that nobody knows apart.
    """
    rows = kept_conditions(day)
    slots = list(day.slots.order_by("starts_at", "id"))
    at_hand = weather_now(day, rows, slots, at=at)
    if at_hand is None:
        return []
    cuts = _cut(day, slots)
    left = [cut for cut in cuts if cut.ends_at > at] or cuts[-1:]
    weather = [at_hand, *(nearest_to(cut.middle, rows) or at_hand for cut in left[1:])]
    runs = [list(run) for _, run in groupby(zip(left, weather, strict=True), key=lambda pair: pair[1].pk)]
    return [_joined(day, slots, run, is_only=len(runs) == 1) for run in runs]


class Timed(Protocol):
    """Something that ends."""

    @property
    def ends_at(self) -> datetime:
        """Return when it ends."""


AnyPart = TypeVar("AnyPart", bound=Timed)


def part_at(parts: Sequence[AnyPart], moment: datetime) -> AnyPart:
    """Return of parts in order of their time the one a moment lies in, else the next one, else the last."""
    return next((part for part in parts if part.ends_at > moment), parts[-1])


def _cut(day: Day, slots: Sequence[Slot]) -> list[_Cut]:
    """Return the parts of a whole day in which somebody rides, however little of it is left."""
    zone = ZoneInfo(day.layout.track.time_zone)
    midnights = tuple(datetime.combine(day.date + timedelta(days=n), time(), zone) for n in (0, 1))
    ridden_from, ridden_to = (datetime.combine(day.date, hour, zone) for hour in USUAL_HOURS)
    if slots:
        ridden_from = slots[0].starts_at.astimezone(zone)
        ridden_to = max(slot.ends_at for slot in slots).astimezone(zone)
    cuts = [
        _Cut(name, starts_at, ends_at, max(starts_at, ridden_from), min(ends_at, ridden_to))
        for name, starts_at, ends_at in _named(day, midnights)
        if starts_at < ridden_to and ends_at > ridden_from
    ]
    if not cuts:  # the track's time zone was mended, and its slots lie on another date by now
        return [_Cut("", *midnights, *midnights)]
    cuts[0] = replace(cuts[0], starts_at=midnights[0])
    cuts[-1] = replace(cuts[-1], ends_at=midnights[1])
    return cuts


def _named(day: Day, midnights: tuple[datetime, ...]) -> list[tuple[str, datetime, datetime]]:
    if day.parts == DayParts.HOURS:
        hours = [datetime.combine(day.date, time(hour), midnights[0].tzinfo) for hour in range(24)]
        return [
            (f"{start:%H:%M}", start, end)
            for start, end in zip(hours, [*hours[1:], midnights[1]], strict=True)
        ]
    cuts = [datetime.combine(day.date, hour, midnights[0].tzinfo) for hour in (MIDDAY_FROM, AFTERNOON_FROM)]
    return list(zip(NAMES, [midnights[0], *cuts], [*cuts, midnights[1]], strict=True))


def _joined(
    day: Day, slots: Sequence[Slot], run: Sequence[tuple[_Cut, Conditions]], *, is_only: bool
) -> DayPart:
    """Return some parts that follow each other under one weather as one."""
    (first, conditions), (last, _) = run[0], run[-1]
    return DayPart(
        name="" if is_only else _name(day, first, last),
        starts_at=first.starts_at,
        ends_at=last.ends_at,
        ridden_from=first.ridden_from,
        ridden_to=last.ridden_to,
        groups=frozenset(slot.group_id for slot in slots if first.starts_at <= slot.starts_at < last.ends_at),
        conditions=conditions,
    )


def _name(day: Day, first: _Cut, last: _Cut) -> str:
    if first is last:
        return first.name
    if day.parts == DayParts.HOURS:
        return f"{first.name}\N{EN DASH}{_full_hour(last.ridden_to):%H:%M}"
    return f"{first.name} and {last.name}"


def _full_hour(moment: datetime) -> datetime:
    hour = moment.replace(minute=0, second=0, microsecond=0)
    return hour if hour == moment else hour + timedelta(hours=1)
