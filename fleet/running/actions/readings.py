"""Writes of readings."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, author
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.revisions import touch_days
from fleet.garage.models import Instrument
from fleet.inventory.models import Tire
from fleet.inventory.ownership import holder_then
from fleet.inventory.revisions import ASSESS, DRAFT, touch
from fleet.records import check_past, earlier, once, store
from fleet.running.actions.access import (
    check_instrument,
    check_standing,
    require_measurer,
    require_rider_or_trailer,
)
from fleet.running.doubts import TREAD_NOISE_MM, doubt_about_pressure, doubt_about_tread
from fleet.running.errors import AboveNew
from fleet.running.models import (
    ContourReading,
    PressureReading,
    ShapeReading,
    Stint,
    TemperatureReading,
    TreadReading,
)
from fleet.running.outlines import check_outline
from fleet.running.queries import ran


@once
@transaction.atomic
def record_pressure(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    moment: str,
    taken_at: datetime,
    pressure_kpa: float,
    stint: Stint | None = None,
    tire_c: float | None = None,
    instrument: Instrument | None = None,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> PressureReading:
    """Store a pressure as read; the instrument's known offset is taken off, a doubtful value is kept and marked."""
    rider = holder_then(by, tire, taken_at, vendor)
    require_rider_or_trailer(by, rider, vendor)
    check_instrument(by, instrument, kind=Instrument.Kind.PRESSURE, rider=rider, vendor=vendor)
    offset_kpa = instrument.offset_kpa if instrument else 0.0
    true_kpa = round(pressure_kpa - offset_kpa, 3)
    if stored := earlier(
        PressureReading, key, tire_id=tire.pk, moment=moment, taken_at=taken_at, pressure_kpa=true_kpa
    ):
        return stored
    check_past("taken_at", taken_at, at=at)
    _check_ran(tire, stint)
    reading = PressureReading(
        id=key or uuid.uuid4(),
        tire=tire,
        stint=stint,
        moment=moment,
        taken_at=taken_at,
        pressure_kpa=true_kpa,
        tire_c=tire_c,
        instrument=instrument,
        recorded_by=author(by),
        recorded_at=at,
    )
    reading.doubt = doubt_about_pressure(reading, stint=stint)
    store(reading)
    touch(tire.pk)
    if stint is not None and stint.day_id is not None:
        touch_days(stint.day_id)
    wake(ASSESS, DRAFT)
    return reading


@once
@transaction.atomic
def record_tread(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    zone: str,
    taken_at: datetime,
    depth_mm: float,
    instrument: Instrument | None = None,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> TreadReading:
    """Store a tread depth; one above new is refused, one that rises beyond gauge noise is kept and marked."""
    rider = holder_then(by, tire, taken_at, vendor)
    require_rider_or_trailer(by, rider, vendor)
    check_instrument(by, instrument, kind=Instrument.Kind.DEPTH, rider=rider, vendor=vendor)
    if stored := earlier(TreadReading, key, tire_id=tire.pk, zone=zone, taken_at=taken_at, depth_mm=depth_mm):
        return stored
    check_past("taken_at", taken_at, at=at)
    if depth_mm > tire.spec.new_depth_mm + 2 * TREAD_NOISE_MM:
        raise AboveNew(
            f"{depth_mm:.1f} mm is more tread than {tire.spec} has when new ({tire.spec.new_depth_mm:.1f} mm): check "
            "the unit, the gauge and the tire.",
            field="depth_mm",
        )
    reading = TreadReading(
        id=key or uuid.uuid4(),
        tire=tire,
        zone=zone,
        taken_at=taken_at,
        depth_mm=depth_mm,
        instrument=instrument,
        recorded_by=author(by),
        recorded_at=at,
    )
    reading.doubt = doubt_about_tread(reading)
    store(reading)
    touch(tire.pk)
    wake(ASSESS)
    return reading


@once
@transaction.atomic
def record_temperature(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    zone: str,
    taken_at: datetime,
    surface_c: float,
    stint: Stint | None = None,
    instrument: Instrument | None = None,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> TemperatureReading:
    """Store a tread surface temperature."""
    rider = holder_then(by, tire, taken_at, vendor)
    require_rider_or_trailer(by, rider, vendor)
    check_instrument(by, instrument, kind=Instrument.Kind.TEMPERATURE, rider=rider, vendor=vendor)
    if stored := earlier(
        TemperatureReading, key, tire_id=tire.pk, zone=zone, taken_at=taken_at, surface_c=surface_c
    ):
        return stored
    check_past("taken_at", taken_at, at=at)
    _check_ran(tire, stint)
    reading = store(
        TemperatureReading(
            id=key or uuid.uuid4(),
            tire=tire,
            stint=stint,
            zone=zone,
            taken_at=taken_at,
            surface_c=surface_c,
            instrument=instrument,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    touch(tire.pk)
    wake(ASSESS)
    return reading


@once
@transaction.atomic
def record_shape(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    quantity: str,
    taken_at: datetime,
    length_mm: float,
    instrument: Instrument | None = None,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> ShapeReading:
    """Store a roll-out, a gap or a ride height."""
    require_measurer(by, tire.owner, vendor)
    check_instrument(by, instrument, kind=None, rider=tire.owner, vendor=vendor)
    if stored := earlier(
        ShapeReading, key, tire_id=tire.pk, quantity=quantity, taken_at=taken_at, length_mm=length_mm
    ):
        return stored
    check_past("taken_at", taken_at, at=at)
    return store(
        ShapeReading(
            id=key or uuid.uuid4(),
            tire=tire,
            quantity=quantity,
            taken_at=taken_at,
            length_mm=length_mm,
            instrument=instrument,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


@once
@transaction.atomic
def record_contour(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    taken_at: datetime,
    x_mm: list[float],
    z_mm: list[float],
    instrument: Instrument | None = None,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> ContourReading:
    """Store the outline of a tread; points that no outline fits are refused."""
    require_measurer(by, tire.owner, vendor)
    check_instrument(by, instrument, kind=None, rider=tire.owner, vendor=vendor)
    x_mm, z_mm = [float(value) for value in x_mm], [float(value) for value in z_mm]
    if stored := earlier(ContourReading, key, tire_id=tire.pk, taken_at=taken_at, x_mm=x_mm, z_mm=z_mm):
        return stored
    check_past("taken_at", taken_at, at=at)
    check_outline(x_mm, z_mm)
    return store(
        ContourReading(
            id=key or uuid.uuid4(),
            tire=tire,
            taken_at=taken_at,
            x_mm=x_mm,
            z_mm=z_mm,
            instrument=instrument,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


def _check_ran(tire: Tire, stint: Stint | None) -> None:
    check_standing(stint)
    if stint is not None and not ran(tire, stint):
        raise Invalid("This tire did not run that stint: choose one of the two that did.", field="tire")
