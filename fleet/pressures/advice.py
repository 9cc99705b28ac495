"""Bridge from a stint's readings and notes to the one change to try next."""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from fleet.catalogue.models import AXLES, TireSpec
from fleet.events.models import Conditions
from fleet.events.queries import conditions_in_force
from fleet.garage.models import Instrument
from fleet.inventory.models import Tire
from fleet.life.queries import sets_of
from fleet.life.usage import practice_for
from fleet.pressures.lines import BOARD_STEP_KPA, FINE_STEP_KPA
from fleet.pressures.queries import own_lines
from fleet.pressures.targets import targets_for
from fleet.running.models import PressureReading, Stint, SurfaceNote
from fleet.running.queries import tires_of
from fleet.science import advice, thermal
from fleet.science.advice import Suggestion
from fleet.science.hot_target import STANDARD_BAROMETER_KPA
from fleet.science.inflation import gas_temperature_c, gauge_after_kpa
from fleet.science.practice import REFERENCE_AIR_C
from fleet.science.standing import standing_tire

LOOKED_AT_FOR: Final = timedelta(hours=4)  # common practice: a tread is looked at before it goes out again


@dataclass(frozen=True)
class EndOfStint:
    """One tire after a stint, true gauge pressures; NaN is not read or not known.

    ``hot_kpa`` is the pressure on coming in: one read later is taken back to it.
    """

    axle: str
    tire: Tire
    set_kpa: float
    set_c: float
    read_kpa: float
    minutes_late: float
    hot_kpa: float
    target_kpa: float

    @property
    def off_kpa(self) -> float:
        """Return how far over its target the tire came in."""
        return self.hot_kpa - self.target_kpa


@dataclass(frozen=True)
class Advice:
    """Both tires after a stint, and the one change to try next; nothing where a wheel had no tire."""

    ends: list[EndOfStint]
    suggestion: Suggestion | None


def advise(stint: Stint, *, gauge: Instrument | None) -> Advice:
    """Return what a stint says about the next change, from its own facts: readings, notes, and the target of its day."""
    tires = tires_of(stint)
    conditions = conditions_in_force(stint.day, at=stint.started_at) if stint.day else None
    air_c = conditions.air_c if conditions else REFERENCE_AIR_C
    barometer_kpa = conditions.barometer_kpa if conditions else STANDARD_BAROMETER_KPA
    targets = _targets(stint, tires, conditions)
    read = {(row.tire_id, _is_hot(row)): row for row in _readings(stint)}
    before = _before(stint)
    ends = [
        _end(
            axle,
            tire,
            read.get((tire.pk, False)),
            read.get((tire.pk, True)),
            stint,
            _standing_c(stint, before, tire.spec, air_c),
            air_c,
            barometer_kpa,
            targets.get(axle, np.nan),
        )
        for axle in AXLES
        if (tire := tires.get(axle)) is not None
    ]
    if len(ends) < len(AXLES):
        return Advice(ends, None)
    stopped, looks = _stopped(stint), _looks(stint, tires)
    front, rear = (
        advice.Tire(
            **_range(end.tire.spec),
            step_kpa=_step(stint, gauge),
            gauge_offset_kpa=gauge.offset_kpa if gauge else 0.0,
            start_kpa=end.set_kpa,
            start_c=end.set_c,
            hot_kpa=end.hot_kpa,
            hot_target_kpa=end.target_kpa,
            barometer_kpa=barometer_kpa,
            looks=looks[end.tire.pk],
            must_stand_down=end.tire.pk in stopped,
        )
        for end in ends
    )
    feels = [(note.feel, note.phase) for note in stint.feel_notes.filter(voided_at__isnull=True)]
    return Advice(ends, advice.suggest(front, rear, feels))


def _end(
    axle: str,
    tire: Tire,
    was_set: PressureReading | None,
    hot: PressureReading | None,
    stint: Stint,
    standing_c: float,
    air_c: float,
    barometer_kpa: float,
    target_kpa: float,
) -> EndOfStint:
    set_kpa = was_set.pressure_kpa if was_set else np.nan
    set_c = was_set.tire_c if was_set and was_set.tire_c is not None else standing_c
    read_kpa = hot.pressure_kpa if hot else np.nan
    late = max((hot.taken_at - stint.ended_at).total_seconds() / 60, 0.0) if hot else 0.0
    hot_kpa = read_kpa
    if late > 0.0 and was_set:
        then_c = gas_temperature_c(set_kpa, set_c, read_kpa, barometer_kpa)
        hot_kpa = float(
            gauge_after_kpa(set_kpa, set_c, thermal.at_pit_in_c(then_c, air_c, late), barometer_kpa)
        )
    elif late > 0.0:
        hot_kpa = np.nan
    return EndOfStint(axle, tire, set_kpa, set_c, read_kpa, late, hot_kpa, target_kpa)


def _readings(stint: Stint) -> list[PressureReading]:
    """Return the pressures of a stint in order of time, so that the last one of each moment counts."""
    rows = stint.pressures.filter(voided_at__isnull=True).exclude(moment=PressureReading.Moment.OUT)
    return list(rows.order_by("taken_at", "id"))


def _is_hot(reading: PressureReading) -> bool:
    return reading.moment != PressureReading.Moment.SET


def _before(stint: Stint) -> Stint | None:
    rows = Stint.objects.filter(
        wheel_pair=stint.wheel_pair_id, ended_at__lte=stint.started_at, voided_at__isnull=True
    )
    return rows.order_by("-ended_at", "id").first()


def _standing_c(stint: Stint, before: Stint | None, spec: TireSpec, air_c: float) -> float:
    """Return the temperature of a tire that was set before a stint: off warmers, or what the stint before left in it."""
    if stint.warmers_c is not None:
        return stint.warmers_c
    found = standing_tire(
        air_c=air_c,
        rise_c=practice_for(spec).settled_rise_c,
        minutes_on_track=_minutes(before.started_at, before.ended_at) if before else np.nan,
        minutes_since=_minutes(before.ended_at, stint.started_at) if before else np.nan,
    )
    return float(found.tire_c)


def _targets(stint: Stint, tires: dict[str, Tire], conditions: Conditions | None) -> dict[str, float]:
    """Return the hot target by axle: that of the day's guidance, else the best source there is for the spec."""
    rider = stint.wheel_pair.bike.rider
    lines = own_lines(rider, stint.day, at=stint.started_at) if stint.day else []
    told = {
        line.axle: line.hot_target_kpa
        for line in lines
        if line.entry is not None
        and line.entry.bike_id == stint.wheel_pair.bike_id
        and line.axle in tires
        and line.spec_id == tires[line.axle].spec_id
    }
    missing = [axle for axle in tires if axle not in told]
    if missing:
        specs = [tires[axle].spec for axle in missing]
        found = targets_for(specs, conditions=[conditions] * len(specs), on=stint.started_at.date())
        told |= dict(zip(missing, found.hot_kpa.tolist(), strict=True))
    return told


def _stopped(stint: Stint) -> set[uuid.UUID]:
    """Return the tires that must not go out now."""
    return {
        mounted.fitting.tire_id
        for view in sets_of([stint.wheel_pair.bike.rider], only_in_use=False)
        for mounted in view.tires.values()
        if mounted.is_stopped
    }


def _looks(stint: Stint, tires: dict[str, Tire]) -> dict[uuid.UUID, list[tuple[str, str]]]:
    found: dict[uuid.UUID, list[tuple[str, str]]] = {tire.pk: [] for tire in tires.values()}
    rows = SurfaceNote.objects.filter(
        tire__in=tires.values(),
        seen_at__gte=stint.ended_at,
        seen_at__lte=stint.ended_at + LOOKED_AT_FOR,
        voided_at__isnull=True,
    )
    for note in rows.order_by("seen_at", "id"):
        found[note.tire_id].append((note.look, note.zone))
    return found


def _range(spec: TireSpec) -> dict[str, float]:
    known = practice_for(spec)
    return {
        "lower_kpa": known.lower_kpa if spec.lower_kpa is None else spec.lower_kpa,
        "upper_kpa": known.upper_kpa if spec.upper_kpa is None else spec.upper_kpa,
    }


def _step(stint: Stint, gauge: Instrument | None) -> float:
    if gauge is not None and gauge.step_kpa:
        return gauge.step_kpa
    person = stint.wheel_pair.bike.rider.person
    return BOARD_STEP_KPA if person is None or person.pressure_unit == "psi" else FINE_STEP_KPA


def _minutes(start: datetime, end: datetime) -> float:
    return max((end - start).total_seconds() / 60, 0.0)
