"""A day looked back on: what the bulletins promised against what was read, and on what people rode."""

import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from statistics import median
from typing import Any, Final

from fleet.accounts.policy import Actor
from fleet.catalogue.models import TireSpec
from fleet.events.models import Day
from fleet.pressures.models import Bulletin, Guidance, GuidanceLine
from fleet.pressures.queries import newest_guidance
from fleet.pressures.told import lines_told_at
from fleet.running.models import PressureReading
from fleet.running.queries import pressures_for

AS_TOLD_KPA: Final = (
    5.0  # common practice, no published source: nearer than this a gauge cannot tell two settings apart
)


@dataclass
class Promise:
    """One line of the day's bulletins, in one part of the day, against the hot pressures read on it.

    ``off_kpa`` are the hot readings less what was expected, of stints that set what the bulletin said; ``otherwise`` counts those
    that set something else, which says nothing about the figure, and those whose setting nobody wrote down.
    """

    spec: str
    tire: str
    axle: str
    group: str
    part: str
    expected_kpa: float
    off_kpa: list[float] = field(default_factory=list)
    otherwise: int = 0

    @property
    def middle_kpa(self) -> float | None:
        """Return the median of how far the readings lay off, where there are any."""
        return median(self.off_kpa) if self.off_kpa else None

    @property
    def span_kpa(self) -> tuple[float, float] | None:
        """Return the lowest and the highest of them."""
        return (min(self.off_kpa), max(self.off_kpa)) if self.off_kpa else None


@dataclass(frozen=True)
class Use:
    """How many of a spec were ridden, for its axle."""

    spec: TireSpec
    count: int


def promises_kept(by: Actor, day: Day, *, at: datetime) -> list[Promise]:
    """Return by line of the bulletins how the hot readings of the day compare, those that lay off most first.

    A reading counts against the bulletin that was in force when its stint began.
    """
    bulletins = list(Bulletin.objects.filter(day=day).order_by("issued_at"))
    entered = {
        (entry.bike_id): (entry.group.name, entry.uses_warmers)
        for entry in day.entries.select_related("group")
    }
    found: dict[tuple[str, str, bool, str], Promise] = {}
    for stint_readings in _by_stint(_readings(by, day, at)):
        hot = next((one for one in stint_readings if one.moment == PressureReading.Moment.IN), None)
        stint = hot.stint if hot else None
        if hot is None or stint is None or stint.wheel_pair.bike_id not in entered:
            continue
        group, uses_warmers = entered[stint.wheel_pair.bike_id]
        bulletin = _in_force_at(bulletins, stint.started_at)
        wanted = (hot.tire.spec.code, group, uses_warmers)
        line = _line(lines_told_at(bulletin.content, stint.started_at), wanted) if bulletin else None
        if line is None:
            continue
        part = line.get("part", "")
        promise = found.setdefault(
            (*wanted, part),
            Promise(line["spec"], str(hot.tire.spec), line["axle"], group, part, line["expected_hot_kpa"]),
        )
        was_set = next((one for one in stint_readings if one.moment == PressureReading.Moment.SET), None)
        if was_set is not None and abs(was_set.pressure_kpa - line["shown_kpa"]) <= AS_TOLD_KPA:
            promise.off_kpa.append(hot.pressure_kpa - line["expected_hot_kpa"])
        else:
            promise.otherwise += 1
    return sorted(found.values(), key=lambda one: (-abs(one.middle_kpa or 0.0), one.tire, one.group))


def tires_used(day: Day) -> list[Use]:
    """Return on how many of each spec the entrants rode, as the guidance behind the last bulletin, or the newest, has it."""
    last = Bulletin.objects.filter(day=day).order_by("-number").select_related("guidance").first()
    guidance: Guidance | None = last.guidance if last else newest_guidance(day)
    if guidance is None:
        return []
    lines = GuidanceLine.objects.filter(guidance=guidance, entry__isnull=False).select_related("spec__line")
    specs = {line.spec_id: line.spec for line in lines}
    counts = Counter(line.spec_id for line in lines)
    found = [Use(specs[pk], count) for pk, count in counts.items()]
    return sorted(found, key=lambda one: (one.spec.axle, -one.count, str(one.spec)))


def _readings(by: Actor, day: Day, at: datetime) -> Iterable[PressureReading]:
    return (
        pressures_for(by, on=at.date())
        .filter(stint__day=day, voided_at__isnull=True, stint__voided_at__isnull=True)
        .select_related("tire__spec__line", "stint__wheel_pair")
    )


def _by_stint(readings: Iterable[PressureReading]) -> Iterable[list[PressureReading]]:
    found: dict[tuple[uuid.UUID | None, uuid.UUID], list[PressureReading]] = defaultdict(list)
    for one in readings:
        found[one.stint_id, one.tire_id].append(one)
    return found.values()


def _in_force_at(bulletins: list[Bulletin], moment: datetime) -> Bulletin | None:
    def ended(one: Bulletin) -> datetime | None:
        return one.withdrawn_at or one.superseded_at

    standing = [one for one in bulletins if one.issued_at <= moment and (ended(one) or moment) >= moment]
    return standing[-1] if standing else None


def _line(lines: Iterable[dict[str, Any]], wanted: tuple[str, str, bool]) -> dict[str, Any] | None:
    return next((one for one in lines if (one["spec"], one["group"], one["uses_warmers"]) == wanted), None)
