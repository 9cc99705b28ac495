"""What happened to tires, gathered from the facts of many tires in a fixed number of queries."""

import uuid
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from fleet.events.models import Conditions
from fleet.inventory.models import Fitting, Hold, Tire
from fleet.inventory.recalls import recalls_of
from fleet.running.models import CycleCorrection, Stint, SurfaceNote, TreadReading

DAMAGE = (SurfaceNote.Look.CUT, SurfaceNote.Look.CORD)


@dataclass(frozen=True)
class Weather:
    """The conditions nearest to a moment of a day."""

    air_c: float
    track_surface_c: float
    barometer_kpa: float


@dataclass(frozen=True)
class Run:
    """One stint of a tire; a road ride has no track."""

    stint_id: uuid.UUID
    started_at: datetime
    ended_at: datetime
    distance_km: float
    effort: float | None
    warmers_c: float | None
    track: str
    date: date
    weather: Weather | None

    @property
    def minutes(self) -> float:
        """Return how long it took."""
        return (self.ended_at - self.started_at).total_seconds() / 60


@dataclass
class History:
    """One tire with everything that happened to it, in order of time."""

    tire: Tire
    is_fitted: bool = False
    is_on_hold: bool = False
    is_recalled: bool = False
    is_damaged: bool = False
    runs: list[Run] = field(default_factory=list)
    treads: list[tuple[datetime, str, float]] = field(default_factory=list)
    no_cycles: set[uuid.UUID] = field(default_factory=set)

    @property
    def track_km_by_day(self) -> dict[date, float]:
        """Return the distance on track of each day it ran."""
        days: dict[date, float] = defaultdict(float)
        for run in self.runs:
            if run.track:
                days[run.date] += run.distance_km
        return dict(days)


@dataclass(frozen=True)
class Sky:
    """The conditions of some days, ready to be asked for a moment."""

    by_day: dict[uuid.UUID, tuple[list[datetime], list[Weather]]]

    def at(self, day: uuid.UUID | None, moment: datetime) -> Weather | None:
        """Return the conditions of a day nearest to a moment, or nothing where nobody noted any."""
        if day is None or day not in self.by_day:
            return None
        moments, weathers = self.by_day[day]
        place = bisect_left(moments, moment)
        near = range(max(place - 1, 0), min(place + 1, len(moments)))
        return weathers[min(near, key=lambda index: abs(moments[index] - moment))]


def sky_of(days: Iterable[uuid.UUID]) -> Sky:
    """Return the standing conditions of some days."""
    by_day: dict[uuid.UUID, tuple[list[datetime], list[Weather]]] = {}
    rows = Conditions.objects.filter(day__in=set(days), voided_at__isnull=True).order_by("holds_at", "id")
    for day, holds_at, *values in rows.values_list(
        "day_id", "holds_at", "air_c", "track_surface_c", "barometer_kpa"
    ):
        moments, weathers = by_day.setdefault(day, ([], []))
        moments.append(holds_at)
        weathers.append(Weather(*values))
    return Sky(by_day)


def histories_of(tires: QuerySet[Tire] | Sequence[Tire]) -> list[History]:
    """Return what happened to some tires: eight or nine queries, however many tires."""
    found = {tire.pk: History(tire) for tire in tires}
    fittings = list(
        Fitting.objects.filter(tire__in=found, voided_at__isnull=True).values_list(
            "tire_id", "wheel_pair_id", "fitted_at", "removed_at"
        )
    )
    runs = _runs_by_pair({pair for _, pair, _, _ in fittings})
    for tire, pair, fitted_at, removed_at in fittings:
        history = found[tire]
        history.is_fitted |= removed_at is None
        history.runs += [
            run
            for run in runs.get(pair, [])
            if fitted_at <= run.started_at and (removed_at is None or run.started_at < removed_at)
        ]
    _add_readings(found)
    for history in found.values():
        history.runs.sort(key=lambda run: run.started_at)
    return list(found.values())


def _runs_by_pair(pairs: set[uuid.UUID]) -> dict[uuid.UUID, list[Run]]:
    rows = list(
        Stint.objects.filter(wheel_pair__in=pairs, voided_at__isnull=True)
        .order_by("started_at", "id")
        .values_list(
            "wheel_pair_id",
            "id",
            "day_id",
            "started_at",
            "ended_at",
            "distance_km",
            "effort",
            "warmers_c",
            "layout__track__code",
            "layout__track__time_zone",
        )
    )
    sky = sky_of({day for _, _, day, *_ in rows if day})
    runs: dict[uuid.UUID, list[Run]] = defaultdict(list)
    for pair, stint, day, started_at, ended_at, km, effort, warmers_c, track, zone in rows:
        runs[pair].append(
            Run(
                stint_id=stint,
                started_at=started_at,
                ended_at=ended_at,
                distance_km=km,
                effort=effort,
                warmers_c=warmers_c,
                track=track or "",
                date=started_at.astimezone(ZoneInfo(zone)).date() if zone else started_at.date(),
                weather=sky.at(day, started_at),
            )
        )
    return runs


def _add_readings(found: dict[uuid.UUID, History]) -> None:
    treads = TreadReading.objects.filter(tire__in=found, voided_at__isnull=True, doubt="")
    for tire, taken_at, zone, depth in treads.order_by("taken_at", "id").values_list(
        "tire_id", "taken_at", "zone", "depth_mm"
    ):
        found[tire].treads.append((taken_at, zone, depth))
    corrected = CycleCorrection.objects.filter(tire__in=found, voided_at__isnull=True)
    for tire, stint in corrected.values_list("tire_id", "stint_id"):
        found[tire].no_cycles.add(stint)
    held = Hold.objects.filter(tire__in=found, lifted_at__isnull=True, voided_at__isnull=True)
    for tire in held.values_list("tire_id", flat=True):
        found[tire].is_on_hold = True
    for tire in recalls_of(found):
        found[tire].is_on_hold = found[tire].is_recalled = True
    damaged = SurfaceNote.objects.filter(tire__in=found, look__in=DAMAGE, voided_at__isnull=True)
    for tire in damaged.values_list("tire_id", flat=True):
        found[tire].is_damaged = True
