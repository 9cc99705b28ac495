"""What a rider's wheel pairs look like on the garage's start page: pressures, life, the next slot and the next event."""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.events.models import Entry, Slot
from fleet.events.queries import coming_entries, slots_for
from fleet.garage.models import Instrument, Rider
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Tire
from fleet.life.outlook import EVEN, LIKELY, chances_to_last
from fleet.life.queries import MountedTire, SetView, inspections_for, last_inspections, sets_of
from fleet.pages.units import day_of
from fleet.pressures.followed import lines_to_set
from fleet.pressures.models import Bulletin, GuidanceLine
from fleet.pressures.queries import bulletins_in_force
from fleet.running.models import Stint

LATELY: Final = timedelta(hours=18)


@dataclass(frozen=True)
class AxleView:
    """One end of a bike: its tire, and the start pressure as the rider's own gauge shows it.

    The line's own figure is on that gauge's scale already; its target and interval are true ones and are moved there.
    """

    axle: str
    mounted: MountedTire | None
    line: GuidanceLine | None
    shown_kpa: float | None = None
    computed_kpa: float | None = None
    target_kpa: float | None = None
    low_kpa: float | None = None
    high_kpa: float | None = None
    hot_kpa: float | None = None
    later: tuple[GuidanceLine, ...] = ()
    inspected: Inspection | None = None

    @property
    def is_same_later(self) -> bool:
        """Return whether what comes later in the day is set like now, on a tire at air temperature."""
        return (
            self.line is not None
            and bool(self.later)
            and not self.line.uses_warmers
            and all(_said(line) == _said(self.line) for line in self.later)
        )


def _said(line: GuidanceLine) -> tuple[object, ...]:
    return line.shown_kpa, line.limit_hit, line.by_hand is None


@dataclass(frozen=True)
class Coming:
    """The next event of a bike: its entries that are still to come, first day first, and the slots of today."""

    entries: list[Entry]
    is_today: bool
    slots: list[Slot] = field(default_factory=list)
    has_slots: bool = False

    @property
    def entry(self) -> Entry:
        """Return the next day's entry."""
        return self.entries[0]

    @property
    def zone(self) -> str:
        """Return the time zone of the track."""
        return str(self.entry.day.layout.track.time_zone)


@dataclass(frozen=True)
class PairView:
    """A wheel pair in use with its next event."""

    view: SetView
    coming: Coming | None
    bulletin: Bulletin | None
    axles: list[AxleView]
    chances: list[tuple[AxleView, float]]
    last_stint: Stint | None = None

    @property
    def entry(self) -> Entry | None:
        """Return the entry of the next day."""
        return self.coming.entry if self.coming else None

    @property
    def has_to_set_now(self) -> bool:
        """Return whether it is ridden today with a start pressure, which goes before everything else then."""
        return self.coming is not None and self.coming.is_today and any(one.line for one in self.axles)

    @property
    def when(self) -> str:
        """Return the date of the next day, for behind a figure."""
        return f", {day_of(self.entry.day.date)}" if self.entry else ""

    @property
    def conditions(self) -> Any:
        """Return the weather the start pressures hold for."""
        return next((one.line.part.conditions for one in self.axles if one.line), None)

    @property
    def weaker(self) -> tuple[AxleView, float] | None:
        """Return the tire less likely to last the event, with its chance; both run the same laps, so it decides."""
        return min(self.chances, key=lambda one: one[1], default=None)

    @property
    def outlook(self) -> str:
        """Return whether the set lasts the event: yes, perhaps or no; nothing where that is not known."""
        if self.weaker is None:
            return ""
        chance = self.weaker[1]
        return "yes" if chance >= LIKELY else "perhaps" if chance >= EVEN else "no"


def pairs_of(by: Person, rider: Rider, gauge: Instrument | None, at: datetime) -> list[PairView]:
    """Return a rider's wheel pairs in use, by as many queries however many there are."""
    coming = _coming(by, rider, at)
    days = {one.entry.day_id: one.entry.day for one in coming.values()}
    lines: dict[uuid.UUID, list[GuidanceLine]] = defaultdict(list)
    bulletins = bulletins_in_force(days)
    for line in lines_to_set(rider, *days.values(), at=at, bulletins=bulletins):
        if line.entry_id is not None:
            lines[line.entry_id].append(line)
    views = sets_of([rider])
    chances = chances_to_last(_asked(views, coming), at=at)
    last = _last_stints(views, at)
    inspected = _inspected(by, views, at)
    pairs = []
    for view in views:
        near = coming.get(view.wheel_pair.bike_id)
        found = lines[near.entry.pk] if near else []
        axles = [
            replace(_axle(axle, view, found, gauge), inspected=inspected.get((view.wheel_pair.pk, axle)))
            for axle in AXLES
        ]
        pairs.append(
            PairView(
                view,
                near,
                bulletins.get(near.entry.day_id) if near else None,
                axles,
                [
                    (one, chances[one.mounted.fitting.tire_id])
                    for one in axles
                    if one.mounted and one.mounted.fitting.tire_id in chances
                ],
                last.get(view.wheel_pair.pk),
            )
        )
    return pairs


def _inspected(by: Person, views: Iterable[SetView], at: datetime) -> dict[tuple[uuid.UUID, str], Inspection]:
    """Return by wheel pair and axle what tech inspection found last on the tire that is there."""
    on_wheels = {
        (view.wheel_pair.pk, axle): one.fitting.tire_id for view in views for axle, one in view.tires.items()
    }
    last = last_inspections(inspections_for(by, on=at.date()), on_wheels.values())
    return {wheel: last[tire] for wheel, tire in on_wheels.items() if tire in last}


def _last_stints(views: Iterable[SetView], at: datetime) -> dict[uuid.UUID, Stint]:
    """Return by wheel pair the newest stint of the last day, for the change to try next."""
    rows = Stint.objects.filter(
        wheel_pair__in=[view.wheel_pair.pk for view in views],
        ended_at__gte=at - LATELY,
        voided_at__isnull=True,
    )
    return {row.wheel_pair_id: row for row in rows.order_by("started_at", "id")}


def _coming(by: Person, rider: Rider, at: datetime) -> dict[uuid.UUID, Coming]:
    """Return by bike the next event it is entered at."""
    grouped: dict[uuid.UUID, list[Entry]] = defaultdict(list)
    for entry in coming_entries([rider], at=at):
        known = grouped[entry.bike_id]
        if not known or known[0].day.event_id == entry.day.event_id:
            known.append(entry)
    today = [entries[0] for entries in grouped.values() if _is_today(entries[0], at)]
    slots = _slots(by, today)
    found = {}
    for bike, entries in grouped.items():
        first = entries[0]
        own = slots.get((first.day_id, first.group_id), [])
        left = [slot for slot in own if slot.ends_at > at]
        found[bike] = Coming(entries, _is_today(first, at), left, bool(own))
    return found


def _is_today(entry: Entry, at: datetime) -> bool:
    return bool(entry.day.date == at.astimezone(ZoneInfo(entry.day.layout.track.time_zone)).date())


def _slots(by: Person, entries: list[Entry]) -> dict[tuple[uuid.UUID, uuid.UUID], list[Slot]]:
    found: dict[tuple[uuid.UUID, uuid.UUID], list[Slot]] = defaultdict(list)
    if entries:
        days, groups = ({getattr(entry, name) for entry in entries} for name in ("day_id", "group_id"))
        for slot in slots_for(by).filter(day__in=days, group__in=groups):
            found[slot.day_id, slot.group_id].append(slot)
    return found


def _asked(views: Iterable[SetView], coming: dict[uuid.UUID, Coming]) -> dict[Tire, int]:
    """Return the tires whose lasting is asked about, with the days; for a last day of today the assessment has it."""
    asked = {}
    for view in views:
        near = coming.get(view.wheel_pair.bike_id)
        if near is None or (near.is_today and len(near.entries) == 1):
            continue
        for mounted in view.tires.values():
            asked[mounted.fitting.tire] = len(near.entries)
    return asked


def _axle(axle: str, view: SetView, lines: list[GuidanceLine], gauge: Instrument | None) -> AxleView:
    mounted = view.tires.get(axle)
    line = next((line for line in lines if line.axle == axle), None)
    if line is None or mounted is None or line.spec_id != mounted.fitting.tire.spec_id:
        return AxleView(axle, mounted, None)
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    return AxleView(
        axle,
        mounted,
        line,
        shown_kpa=line.shown_kpa,
        computed_kpa=line.by_hand.computed_kpa if line.by_hand else None,
        target_kpa=line.hot_target_kpa + offset_kpa,
        low_kpa=line.low_kpa + offset_kpa,
        high_kpa=line.high_kpa + offset_kpa,
        hot_kpa=line.expected_hot_kpa + offset_kpa,
        later=line.later,
    )
