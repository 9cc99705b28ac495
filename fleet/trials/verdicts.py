"""Bridge to the science of laps and wear: consistency of each run, comparison of the sets, wear by zone."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import numpy as np

from fleet.inventory.models import Fitting
from fleet.running.models import Stint, TreadReading, Zone
from fleet.science.laps import (
    CAUSE_OPEN,
    DIFFERENT,
    Comparison,
    Consistency,
    compare,
    consistency,
    there_and_back,
)
from fleet.trials.log import Ridden, changes_of
from fleet.trials.models import Run, Side, TireTest
from fleet.trials.queries import TireSet

TREAD_SD_MM: Final = 0.15
"""Standard deviation of one reading of a hand gauge; common practice, no published source."""

FEWEST_LAPS: Final = 1
"""Laps between two readings from which wear a lap is told at all; its spread says how little that is."""


@dataclass(frozen=True)
class Judged:
    """A consistency run with what its laps tell."""

    ridden: Ridden
    laps: Consistency


@dataclass(frozen=True)
class Compared:
    """Two runs of different sets in the order ridden; the figures are candidate less baseline, so below 0 it is faster."""

    first: Ridden
    second: Ridden
    found: Comparison
    shift_s: float
    low_s: float
    high_s: float
    level: float
    changes: int

    @property
    def says(self) -> str:
        """Return in plain words what the laps say about the two sets."""
        faster = "faster" if self.shift_s < 0 else "slower"
        about = f"The candidate is {faster} by {abs(self.shift_s):.2f} s a lap"
        if self.found.verdict == DIFFERENT:
            return f"{about}, and the laps tell the two sets apart."
        if self.found.verdict == CAUSE_OPEN:
            return f"{about}, but that need not be the tires: see what stays open."
        return "The laps do not tell the two sets apart."


@dataclass(frozen=True)
class Verdicts:
    """What the laps of a test tell: each consistency run, each change of sets, and whether it came back."""

    runs: list[Judged]
    compared: list[Compared]
    came_back: bool


@dataclass(frozen=True)
class ZoneWear:
    """What one zone lost between its first and its last reading of the test, with one standard deviation."""

    zone: str
    first_mm: float
    last_mm: float
    laps: int
    km: float

    @property
    def lost_mm(self) -> float:
        """Return the tread lost."""
        return self.first_mm - self.last_mm

    @property
    def per_lap_mm(self) -> float | None:
        """Return the tread lost a lap; nothing without laps between the readings."""
        return self.lost_mm / self.laps if self.laps else None

    @property
    def per_lap_sd_mm(self) -> float | None:
        """Return its standard deviation from the gauge alone."""
        return TREAD_SD_MM * 2**0.5 / self.laps if self.laps else None


def judged_laps(test: TireTest, ridden: Sequence[Ridden]) -> Verdicts:
    """Return what the consistency runs of a test tell about its two sets."""
    runs = [
        Judged(one, consistency(one.stint.lap_times_s))
        for one in ridden
        if one.run.purpose == Run.Purpose.CONSISTENCY and len(one.stint.lap_times_s) >= FEWEST_LAPS
    ]
    pairs = [(a, b) for a, b in itertools.pairwise(runs) if a.ridden.run.side != b.ridden.run.side]
    compared = [_compared(test, a, b) for a, b in pairs]
    came_back = any(
        there_and_back(one.found, other.found)
        for one, other in itertools.pairwise(compared)
        if one.second is other.first
    )
    return Verdicts(runs, compared, came_back)


def _compared(test: TireTest, first: Judged, second: Judged) -> Compared:
    changes = len(changes_of(test, first.ridden, second.ridden))
    found = compare(
        first.laps,
        second.laps,
        laps_between=_laps_between(first, second),
        track_c_a=_track_c(first.ridden),
        track_c_b=_track_c(second.ridden),
        changes=changes,
    )
    shift = found.plain.shift_s
    # The science tells second less first; the page tells candidate less baseline.
    sign = 1.0 if second.ridden.run.side == Side.CANDIDATE else -1.0
    ends = sorted((sign * shift.low, sign * shift.high)) if not np.isnan(shift.low) else [np.nan, np.nan]
    return Compared(
        first=first.ridden,
        second=second.ridden,
        found=found,
        shift_s=sign * shift.value,
        low_s=ends[0],
        high_s=ends[1],
        level=shift.level,
        changes=changes,
    )


def _laps_between(first: Judged, second: Judged) -> float:
    between = second.ridden.stint.started_at - first.ridden.stint.ended_at
    lap_s = first.laps.median_s
    return max(between / timedelta(seconds=1), 0.0) / lap_s if lap_s and not np.isnan(lap_s) else 0.0


def _track_c(one: Ridden) -> float | None:
    """Return the track's temperature where it was measured; an estimate decides nothing."""
    weather = one.weather
    return weather.track_surface_c if weather and weather.track_surface_standing == "observed" else None


def wear_of_set(tire_set: TireSet) -> dict[str, list[ZoneWear]]:
    """Return by axle what each zone of a set lost between its first and its last standing reading."""
    return {axle: _zones(fitting) for axle, fitting in tire_set.fittings.items()}


def _zones(fitting: Fitting) -> list[ZoneWear]:
    readings = TreadReading.objects.filter(
        tire=fitting.tire_id, taken_at__gte=fitting.fitted_at, voided_at__isnull=True, doubt=""
    ).order_by("taken_at", "id")
    if fitting.removed_at is not None:
        readings = readings.filter(taken_at__lte=fitting.removed_at + timedelta(days=2))
    by_zone: dict[str, list[TreadReading]] = {}
    for reading in readings:
        by_zone.setdefault(reading.zone, []).append(reading)
    stints = list(
        Stint.objects.filter(
            wheel_pair=fitting.wheel_pair_id, started_at__gte=fitting.fitted_at, voided_at__isnull=True
        ).order_by("started_at", "id")
    )
    return [
        _worn(zone, by_zone[zone][0], by_zone[zone][-1], stints)
        for zone in Zone.values
        if len(by_zone.get(zone, ())) > 1
    ]


def _worn(zone: str, first: TreadReading, last: TreadReading, stints: Sequence[Stint]) -> ZoneWear:
    ridden = [one for one in stints if first.taken_at <= one.started_at and one.ended_at <= last.taken_at]
    return ZoneWear(
        zone=zone,
        first_mm=first.depth_mm,
        last_mm=last.depth_mm,
        laps=sum(one.laps or 0 for one in ridden),
        km=sum(one.distance_km for one in ridden),
    )
