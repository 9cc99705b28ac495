"""Writes of stints."""

import uuid
from datetime import datetime, timedelta

from django.db import transaction

from fleet.accounts.policy import Actor, author
from fleet.catalogue.models import AXLES
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.models import Day, Layout
from fleet.events.revisions import touch_days
from fleet.garage.models import Instrument, WheelPair
from fleet.garage.queries import require_owner
from fleet.inventory.models import Tire
from fleet.inventory.revisions import ASSESS, DRAFT, touch
from fleet.records import check_past, earlier, once, store, void
from fleet.running.actions.notes import note_feel
from fleet.running.actions.readings import record_pressure
from fleet.running.actions.stint_checks import (
    PlannedPressure,
    check_same_pressures,
    checked_distance_km,
    checked_lap_times,
    checked_layout,
)
from fleet.running.errors import NothingFitted
from fleet.running.models import PressureReading, Stint
from fleet.running.queries import held_during, tires_of

LATEST_READING_MIN = (
    24 * 60
)  # common practice, no published source: by the next day it tells nothing of the stint


@once
@transaction.atomic
def log_stint(
    *,
    by: Actor,
    at: datetime,
    wheel_pair: WheelPair,
    started_at: datetime,
    ended_at: datetime,
    day: Day | None = None,
    layout: Layout | None = None,
    laps: int | None = None,
    distance_km: float | None = None,
    effort: float | None = None,
    warmers_c: float | None = None,
    lap_times_s: list[float] | None = None,
    front_set_kpa: float | None = None,
    rear_set_kpa: float | None = None,
    front_in_kpa: float | None = None,
    rear_in_kpa: float | None = None,
    set_tire_c: float | None = None,
    minutes_since_in: float = 0.0,
    instrument: Instrument | None = None,
    feel: str = "",
    phase: str = "",
    key: uuid.UUID | None = None,
) -> Stint:
    """Store a stint with, where given, the pressures set and read hot and one feel word; all of it or nothing.

    The distance is laps times the layout's length unless it is given; a stint without a layout is a road ride.
    """
    require_owner(by, wheel_pair.bike.rider)
    pressures = _planned(
        started_at,
        read_at=_read_at(at, ended_at, minutes_since_in),
        is_later=minutes_since_in > 0,
        was_set={"front": front_set_kpa, "rear": rear_set_kpa},
        was_hot={"front": front_in_kpa, "rear": rear_in_kpa},
    )
    if stored := earlier(
        Stint,
        key,
        wheel_pair_id=wheel_pair.pk,
        day_id=day.pk if day else None,
        started_at=started_at,
        ended_at=ended_at,
        laps=laps,
        effort=effort,
        warmers_c=warmers_c,
        **({} if distance_km is None else {"distance_km": distance_km}),
    ):
        check_same_pressures(stored, pressures, instrument)
        return stored
    check_past("ended_at", ended_at, at=at)
    layout = checked_layout(by, wheel_pair, day, layout, started_at)
    tires = _tires_on(wheel_pair, started_at, ended_at)
    stint = store(
        Stint(
            id=key or uuid.uuid4(),
            wheel_pair=wheel_pair,
            day=day,
            layout=layout,
            started_at=started_at,
            ended_at=ended_at,
            laps=laps,
            distance_km=checked_distance_km(layout, laps, distance_km, ended_at - started_at),
            effort=effort,
            warmers_c=warmers_c,
            lap_times_s=checked_lap_times(lap_times_s or []),
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    for planned in pressures:
        record_pressure(
            by=by,
            at=at,
            tire=tires[planned.axle],
            stint=stint,
            moment=planned.moment,
            taken_at=planned.taken_at,
            pressure_kpa=planned.pressure_kpa,
            tire_c=set_tire_c if planned.moment == PressureReading.Moment.SET else None,
            instrument=instrument,
            key=planned.key_in(stint),
        )
    if feel:
        note_feel(by=by, at=at, stint=stint, feel=feel, phase=phase, key=uuid.uuid5(stint.pk, "feel"))
    _changed(stint, *tires.values())
    return stint


@transaction.atomic
def void_stint(*, by: Actor, at: datetime, stint: Stint, reason: str) -> Stint:
    """Mark a stint as wrong together with its readings, notes and what was said of it."""
    require_owner(by, stint.wheel_pair.bike.rider)
    void(stint, by=author(by), at=at, reason=reason)
    for facts in (
        stint.pressures,
        stint.temperatures,
        stint.feel_notes,
        stint.advice_answers,
        stint.cycle_corrections,
    ):
        facts.filter(voided_at__isnull=True).update(
            voided_at=at, voided_by=author(by), void_reason=reason.strip()
        )
    _changed(stint, *tires_of(stint).values())
    return stint


def _tires_on(wheel_pair: WheelPair, started_at: datetime, ended_at: datetime) -> dict[str, Tire]:
    fitted = held_during(wheel_pair, started_at=started_at, ended_at=ended_at)
    if missing := [axle for axle in AXLES if axle not in fitted]:
        raise NothingFitted(
            f"No {' and no '.join(missing)} tire was on this wheel pair for the whole of that time: log the fitting "
            "first, or correct the times.",
            field="started_at",
        )
    return {axle: fitting.tire for axle, fitting in fitted.items()}


def _changed(stint: Stint, *tires: Tire) -> None:
    touch(*(tire.pk for tire in tires))
    if stint.day_id is not None:
        touch_days(stint.day_id)
    wake(ASSESS, DRAFT)


def _read_at(at: datetime, ended_at: datetime, minutes_since_in: float) -> datetime:
    if not 0 <= minutes_since_in <= LATEST_READING_MIN:
        raise Invalid(
            "The time between coming in and reading is 0 minutes to a day: give minutes, or the reading by itself.",
            field="minutes_since_in",
        )
    return min(ended_at + timedelta(minutes=minutes_since_in), max(at, ended_at))


def _planned(
    started_at: datetime,
    *,
    read_at: datetime,
    is_later: bool,
    was_set: dict[str, float | None],
    was_hot: dict[str, float | None],
) -> list[PlannedPressure]:
    hot = PressureReading.Moment.LATER if is_later else PressureReading.Moment.IN
    return [
        PlannedPressure(axle, moment, taken_at, pressure_kpa)
        for moment, taken_at, by_axle in (
            (PressureReading.Moment.SET, started_at, was_set),
            (hot, read_at, was_hot),
        )
        for axle, pressure_kpa in by_axle.items()
        if pressure_kpa is not None
    ]
