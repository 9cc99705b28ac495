"""Writes of what a crew measures on the wheels of a ticket, both ends in one step."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor
from fleet.errors import Invalid
from fleet.garage.models import Instrument, WheelPair
from fleet.inventory.models import Tire
from fleet.inventory.queries import fitted_at
from fleet.records import once
from fleet.running.actions.readings import record_pressure, record_shape
from fleet.running.models import PressureReading, ShapeReading


@dataclass(frozen=True)
class AsSet:
    """A pressure as the gauge showed it, and the temperature of the tire where it was measured."""

    pressure_kpa: float
    tire_c: float | None = None


@dataclass(frozen=True)
class Measured:
    """A roll-out or a gap of one tire, as it was when that tire was on its wheel."""

    tire: Tire
    quantity: str
    length_mm: float
    taken_at: datetime


@once
@transaction.atomic
def measure_wheels(
    *,
    by: Actor,
    at: datetime,
    measured: Sequence[Measured],
    vendor: Organisation | None = None,
    key: uuid.UUID,
) -> list[ShapeReading]:
    """Store what was measured on some tires before and after a change: all of it or nothing, and sent twice once."""
    if not measured:
        raise Invalid("Nothing was measured: enter at least one roll-out or gap.")
    return [
        record_shape(
            by=by,
            at=at,
            tire=one.tire,
            quantity=one.quantity,
            taken_at=one.taken_at,
            length_mm=one.length_mm,
            vendor=vendor,
            key=uuid.uuid5(key, f"{one.tire.pk} {one.quantity}"),
        )
        for one in measured
    ]


@once
@transaction.atomic
def set_pressures(
    *,
    by: Actor,
    at: datetime,
    wheel_pair: WheelPair,
    taken_at: datetime,
    by_axle: Mapping[str, AsSet],
    vendor: Organisation | None = None,
    instrument: Instrument | None = None,
    key: uuid.UUID,
) -> dict[str, PressureReading]:
    """Store by axle what the tires on a wheel pair were set to: all of it or nothing, and sent twice once."""
    if not by_axle:
        raise Invalid("No pressure was given: enter the one of at least one wheel.")
    tires = {fitting.axle: fitting.tire for fitting in fitted_at([wheel_pair.pk], taken_at)}
    for axle in by_axle:
        if axle not in tires:
            raise Invalid(
                f"There was no {axle} tire on these wheels then: fit one first, or check the time.",
                field=f"{axle}_kpa",
            )
    return {
        axle: record_pressure(
            by=by,
            at=at,
            tire=tires[axle],
            moment=PressureReading.Moment.SET,
            taken_at=taken_at,
            pressure_kpa=one.pressure_kpa,
            tire_c=one.tire_c,
            instrument=instrument,
            vendor=vendor,
            key=uuid.uuid5(key, axle),
        )
        for axle, one in by_axle.items()
    }
