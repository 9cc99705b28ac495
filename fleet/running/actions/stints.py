"""Writes of stints."""

import uuid
from datetime import datetime, timedelta

from django.db import transaction

from fleet.accounts.policy import Actor, author
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.models import Day, Layout
from fleet.events.revisions import touch_days
from fleet.garage.models import Instrument, WheelPair
from fleet.garage.queries import require_owner
from fleet.inventory.models import Tire
from fleet.inventory.revisions import ASSESS, DRAFT, touch
from fleet.records import check_past, earlier, store, void
from fleet.running.actions.notes import note_feel
from fleet.running.actions.readings import record_pressure
from fleet.running.errors import DistanceUnknown, NothingFitted
from fleet.running.models import PressureReading, Stint
from fleet.running.queries import set_during, tires_of

SHORTEST_LAP_S = 10.0
LONGEST_LAP_S = 3600.0


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
    key: uuid.UUID | None = None,
) -> Stint:
    """Store a stint with, where given, the pressures set and read hot and one feel word; all of it or nothing.

    The distance is laps times the layout's length unless it is given; a stint without a layout is a road ride.
    """
    require_owner(by, wheel_pair.bike.rider)
    if stored := earlier(Stint, key, wheel_pair_id=wheel_pair.pk, started_at=started_at, ended_at=ended_at):
        return stored
    check_past("ended_at", ended_at, at=at)
    layout = layout or (day.layout if day else None)
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
            distance_km=_distance_km(layout, laps, distance_km),
            effort=effort,
            warmers_c=warmers_c,
            lap_times_s=_checked_lap_times(lap_times_s or []),
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    read_at = min(ended_at + timedelta(minutes=minutes_since_in), max(at, ended_at))
    hot = PressureReading.Moment.LATER if minutes_since_in > 0 else PressureReading.Moment.IN
    for axle, moment, taken_at, pressure_kpa in (
        ("front", PressureReading.Moment.SET, started_at, front_set_kpa),
        ("rear", PressureReading.Moment.SET, started_at, rear_set_kpa),
        ("front", hot, read_at, front_in_kpa),
        ("rear", hot, read_at, rear_in_kpa),
    ):
        if pressure_kpa is None:
            continue
        record_pressure(
            by=by,
            at=at,
            tire=tires[axle],
            stint=stint,
            moment=moment,
            taken_at=taken_at,
            pressure_kpa=pressure_kpa,
            tire_c=set_tire_c if moment == PressureReading.Moment.SET else None,
            instrument=instrument,
            key=uuid.uuid5(stint.pk, f"{axle} {moment}"),
        )
    if feel:
        note_feel(by=by, at=at, stint=stint, feel=feel, key=uuid.uuid5(stint.pk, "feel"))
    _changed(stint, *tires.values())
    return stint


@transaction.atomic
def void_stint(*, by: Actor, at: datetime, stint: Stint, reason: str) -> Stint:
    """Mark a stint as wrong together with its readings and notes."""
    require_owner(by, stint.wheel_pair.bike.rider)
    void(stint, by=author(by), at=at, reason=reason)
    for facts in (stint.pressures, stint.temperatures, stint.feel_notes):
        facts.filter(voided_at__isnull=True).update(
            voided_at=at, voided_by=author(by), void_reason=reason.strip()
        )
    _changed(stint, *tires_of(stint).values())
    return stint


def _tires_on(wheel_pair: WheelPair, started_at: datetime, ended_at: datetime) -> dict[str, Tire]:
    fitted = set_during(wheel_pair, started_at=started_at, ended_at=ended_at)
    if missing := [axle for axle in ("front", "rear") if axle not in fitted]:
        raise NothingFitted(
            f"No {' and no '.join(missing)} tire was on this wheel pair for the whole of that time: log the fitting "
            "first, or correct the times.",
            field="started_at",
        )
    return {axle: fitting.tire for axle, fitting in fitted.items()}


def _distance_km(layout: Layout | None, laps: int | None, distance_km: float | None) -> float:
    if distance_km is not None:
        return distance_km
    if layout is not None and laps:
        return round(layout.length_km * laps, 3)
    raise DistanceUnknown(
        "Give the laps on a layout, or the distance in km: without either nothing can be counted.",
        field="laps",
    )


def _checked_lap_times(lap_times_s: list[float]) -> list[float]:
    if any(not SHORTEST_LAP_S <= lap_time <= LONGEST_LAP_S for lap_time in lap_times_s):
        raise Invalid(
            "A lap time lies between 10 seconds and an hour: give seconds, such as 102.35.",
            field="lap_times_s",
        )
    return lap_times_s


def _changed(stint: Stint, *tires: Tire) -> None:
    touch(*(tire.pk for tire in tires))
    if stint.day_id is not None:
        touch_days(stint.day_id)
    wake(ASSESS, DRAFT)
