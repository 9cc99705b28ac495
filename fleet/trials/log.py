"""The log of a test: what belongs to each run, and what was changed between any two of them.

Two changes are never called one: whoever reads a difference must know to how many things it could be put down.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Final

from fleet.catalogue.models import AXLES, TireSpec
from fleet.events.models import Conditions
from fleet.running.models import Adjustment, FeelNote, PressureReading, Stint, SurfaceNote, TemperatureReading
from fleet.trials.models import Run, Side, TireTest
from fleet.trials.queries import sets_of, standing_runs

SAME_KPA: Final = 2.0
"""Pressures nearer to each other than a gauge's usual step count as the same; common practice, no published source."""

LOOKED_AT_WITHIN: Final = timedelta(hours=12)
"""Up to then what a tread shows is put down to the run before; later it may be another ride's. Common practice, no
published source."""

OUTSIDE_KPA: Final = frozenset({Adjustment.Part.FRONT_PRESSURE.value, Adjustment.Part.REAR_PRESSURE.value})


@dataclass(frozen=True)
class Change:
    """One thing that was changed: what it is in words, and for a pressure the values in kPa."""

    what: str
    before_kpa: float | None = None
    after_kpa: float | None = None


@dataclass(frozen=True)
class Ridden:
    """A run with everything that was read and noted about it."""

    run: Run
    specs: dict[str, TireSpec]
    set_kpa: dict[str, float] = field(default_factory=dict)
    hot_kpa: dict[str, float] = field(default_factory=dict)
    surface_c: dict[str, list[tuple[str, float]]] = field(default_factory=dict)
    feels: tuple[FeelNote, ...] = ()
    looks: tuple[tuple[str, SurfaceNote], ...] = ()
    weather: Conditions | None = None

    @property
    def stint(self) -> Stint:
        """Return the stint of the run."""
        stint: Stint = self.run.stint
        return stint

    @property
    def growth_kpa(self) -> dict[str, float]:
        """Return by how much each pressure rose on track, where both ends were read."""
        return {
            axle: self.hot_kpa[axle] - self.set_kpa[axle]
            for axle in AXLES
            if axle in self.hot_kpa and axle in self.set_kpa
        }


@dataclass(frozen=True)
class Entry:
    """A run in the log with what was changed since the run before it."""

    ridden: Ridden
    changes: tuple[Change, ...]
    is_first: bool


def log_of(test: TireTest) -> list[Entry]:
    """Return the runs of a test in order, each with what changed since the run before."""
    ridden = ridden_of(test)
    adjustments = _adjustments(test)
    return [
        Entry(one, changes_between(ridden[place - 1], one, adjustments) if place else (), is_first=not place)
        for place, one in enumerate(ridden)
    ]


def ridden_of(test: TireTest) -> list[Ridden]:
    """Return the runs of a test with what belongs to each, in a fixed number of queries."""
    runs = standing_runs(test)
    stints = [run.stint_id for run in runs]
    pressures: dict[uuid.UUID, dict[str, dict[str, float]]] = defaultdict(lambda: {"set": {}, "hot": {}})
    rows = PressureReading.objects.filter(stint__in=stints, voided_at__isnull=True).select_related(
        "tire__spec"
    )
    for row in rows.order_by("taken_at", "id"):
        kind = "set" if row.moment in {"set", "out"} else "hot"
        # Set before out, coming in before later: the reading nearest to the pits counts.
        pressures[row.stint_id][kind].setdefault(row.tire.spec.axle, row.pressure_kpa)
    heats: dict[uuid.UUID, dict[str, list[tuple[str, float]]]] = defaultdict(lambda: defaultdict(list))
    warm = TemperatureReading.objects.filter(stint__in=stints, voided_at__isnull=True).select_related(
        "tire__spec"
    )
    for one in warm.order_by("taken_at", "zone", "id"):
        heats[one.stint_id][one.tire.spec.axle].append((one.zone, one.surface_c))
    feels: dict[uuid.UUID, list[FeelNote]] = defaultdict(list)
    for note in FeelNote.objects.filter(stint__in=stints, voided_at__isnull=True).order_by(
        "recorded_at", "id"
    ):
        feels[note.stint_id].append(note)
    looks = _looks(test, runs)
    weather = _weather({run.stint.day_id for run in runs if run.stint.day_id})
    return [
        Ridden(
            run=run,
            specs=test.specs(run.side),
            set_kpa=pressures[run.stint_id]["set"],
            hot_kpa=pressures[run.stint_id]["hot"],
            surface_c=dict(heats[run.stint_id]),
            feels=tuple(feels[run.stint_id]),
            looks=tuple(looks[run.pk]),
            weather=_nearest(weather.get(run.stint.day_id, ()), run.stint) if run.stint.day_id else None,
        )
        for run in runs
    ]


def changes_between(before: Ridden, after: Ridden, adjustments: Iterable[Adjustment]) -> tuple[Change, ...]:
    """Return every single change between two runs: the tires, what was adjusted, pressures, warmers, the layout.

    Other tires are one change together with the pressures they are set to, since a tire runs at its own pressure;
    on the same tires every pressure is a change of its own.
    """
    found: list[Change] = []
    is_other_set = before.run.side != after.run.side
    if is_other_set:
        found.append(Change(f"tires: {Side(after.run.side).label.lower()} instead of {before.run.side}"))
    found += _adjusted(before.stint, after.stint, adjustments)
    if not is_other_set:
        found += [
            Change(f"{axle} pressure as set", before.set_kpa[axle], after.set_kpa[axle])
            for axle in AXLES
            if axle in before.set_kpa and axle in after.set_kpa
            if abs(after.set_kpa[axle] - before.set_kpa[axle]) >= SAME_KPA
        ]
    if (before.stint.warmers_c is None) != (after.stint.warmers_c is None):
        found.append(Change("with warmers" if after.stint.warmers_c is not None else "without warmers"))
    if before.stint.layout_id != after.stint.layout_id:
        found.append(Change(f"layout: {after.stint.layout or 'the road'}"))
    return tuple(found)


def _adjusted(before: Stint, after: Stint, adjustments: Iterable[Adjustment]) -> list[Change]:
    """Return the net change of each adjuster between two stints; pressures are told by what was set."""
    by_part: dict[str, list[Adjustment]] = defaultdict(list)
    for one in adjustments:
        if before.started_at < one.made_at <= after.started_at and one.part not in OUTSIDE_KPA:
            by_part[one.part].append(one)
    found = []
    for rows in by_part.values():
        first, last = rows[0], rows[-1]
        if first.before is not None and first.before == last.after:
            continue
        was = "" if first.before is None else f"{first.before:g} to "
        found.append(Change(f"{last.get_part_display().lower()}: {was}{last.after:g} {last.unit}"))
    return found


def _adjustments(test: TireTest) -> list[Adjustment]:
    return list(
        Adjustment.objects.filter(wheel_pair__bike=test.bike_id, voided_at__isnull=True).order_by(
            "made_at", "id"
        )
    )


def _looks(test: TireTest, runs: Sequence[Run]) -> dict[uuid.UUID, list[tuple[str, SurfaceNote]]]:
    """Return by run what the treads of its set showed after it, before the next run on them."""
    ran: dict[uuid.UUID, list[Run]] = defaultdict(list)
    axle_of: dict[uuid.UUID, str] = {}
    for side, one in sets_of(test).items():
        for axle, fitting in one.fittings.items():
            axle_of[fitting.tire_id] = axle
            ran[fitting.tire_id] += [run for run in runs if run.side == side]
    found: dict[uuid.UUID, list[tuple[str, SurfaceNote]]] = defaultdict(list)
    notes = SurfaceNote.objects.filter(tire__in=axle_of, voided_at__isnull=True)
    for note in notes.order_by("seen_at", "tire__spec__axle", "zone", "id"):
        before = [run for run in ran[note.tire_id] if run.stint.started_at <= note.seen_at]
        last = max(before, key=lambda run: run.stint.started_at, default=None)
        if last is not None and note.seen_at - last.stint.ended_at <= LOOKED_AT_WITHIN:
            found[last.pk].append((axle_of[note.tire_id], note))
    return found


def _weather(days: set[uuid.UUID]) -> dict[uuid.UUID, list[Conditions]]:
    found: dict[uuid.UUID, list[Conditions]] = defaultdict(list)
    for row in Conditions.objects.filter(day__in=days, voided_at__isnull=True).order_by("holds_at", "id"):
        found[row.day_id].append(row)
    return found


def _nearest(rows: Sequence[Conditions], stint: Stint) -> Conditions | None:
    """Return the observation nearest to a stint, or what is nearest where nothing was observed."""
    observed = [row for row in rows if row.standing == "observed"] or list(rows)
    return min(observed, key=lambda row: abs(row.holds_at - stint.started_at), default=None)


def changes_of(test: TireTest, first: Ridden, second: Ridden) -> tuple[Change, ...]:
    """Return every change between any two runs of a test."""
    return changes_between(first, second, _adjustments(test))
