"""Writing of a stint with everything a rider measured, saw and changed: all of it or nothing, doubtful values asked about."""

import uuid
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NamedTuple

from django.db import transaction

from fleet.accounts.policy import Actor
from fleet.catalogue.models import AXLES
from fleet.errors import Refusal
from fleet.inventory.models import Tire
from fleet.running.actions.notes import adjust, note_surface
from fleet.running.actions.readings import record_temperature, record_tread
from fleet.running.actions.stints import log_stint
from fleet.running.doubts import doubts_about_hot, doubts_about_readings, doubts_about_stint
from fleet.running.errors import Doubt, Doubtful
from fleet.running.models import Stint
from fleet.running.queries import tires_of


class Look(NamedTuple):
    """What the tread of one tire showed."""

    axle: str
    look: str
    zone: str = ""


class Change(NamedTuple):
    """What was changed on the bike before the stint."""

    part: str
    before: float | None
    after: float
    unit: str


@dataclass(frozen=True)
class Measured:
    """What comes with a stint besides pressures and a feel word; temperatures and depths by axle and zone."""

    surface_c: Mapping[tuple[str, str], float] = field(default_factory=dict)
    depth_mm: Mapping[tuple[str, str], float] = field(default_factory=dict)
    looks: Iterable[Look] = ()
    changes: Iterable[Change] = ()


@transaction.atomic
def log_whole_stint(
    *,
    by: Actor,
    at: datetime,
    key: uuid.UUID,
    stint: Mapping[str, Any],
    measured: Measured,
    targets_kpa: Mapping[str, float],
    is_confirmed: bool,
) -> Stint:
    """Store a stint (its keywords as for ``log_stint``) and what comes with it, each under a key made of the stint's own.

    Values that look wrong are told in a ``Doubtful`` refusal and nothing is stored, unless they were confirmed or the
    stint was stored before. ``targets_kpa`` are the hot targets by axle on the scale of the gauge the pressures were
    read with.
    """
    was_stored = Stint.objects.filter(pk=key).exists()
    stored = log_stint(by=by, at=at, key=key, **stint)
    tires = tires_of(stored)
    doubts = doubts_about_stint(stored)
    doubts += doubts_about_hot({axle: stint.get(f"{axle}_in_kpa") for axle in AXLES}, targets_kpa)
    for axle, tire in tires.items():
        doubts += doubts_about_readings(axle, stored.pressures.filter(tire=tire).order_by("taken_at"))
    read_at = min(at, max([stored.ended_at, *stored.pressures.values_list("taken_at", flat=True)]))
    doubts += _measure(by, at, stored, tires, measured, max(read_at, stored.ended_at))
    for number, change in enumerate(measured.changes):
        with _at_field(f"change_{number}_after"):
            adjust(
                by=by,
                at=at,
                wheel_pair=stored.wheel_pair,
                made_at=stored.started_at,
                key=uuid.uuid5(key, f"change {number}"),
                **change._asdict(),
            )
    if doubts and not (is_confirmed or was_stored):
        raise Doubtful(doubts)
    return stored


def _measure(
    by: Actor, at: datetime, stint: Stint, tires: Mapping[str, Tire], measured: Measured, read_at: datetime
) -> list[Doubt]:
    """Store what was measured and seen after a stint, and return what of it is doubtful."""
    doubts = []
    for (axle, zone), surface_c in measured.surface_c.items():
        with _at_field(f"{axle}_c_{zone}"):
            warm = record_temperature(
                by=by, at=at, tire=tires[axle], stint=stint, zone=zone, taken_at=read_at, surface_c=surface_c,
                key=uuid.uuid5(stint.pk, f"{axle} {zone} C"),
            )  # fmt: skip
        doubts += doubts_about_readings(axle, [warm])
    for (axle, zone), depth_mm in measured.depth_mm.items():
        with _at_field(f"{axle}_depth_{zone}"):
            deep = record_tread(
                by=by, at=at, tire=tires[axle], zone=zone, taken_at=read_at, depth_mm=depth_mm,
                key=uuid.uuid5(stint.pk, f"{axle} {zone} mm"),
            )  # fmt: skip
        doubts += doubts_about_readings(axle, [deep])
    for look in measured.looks:
        with _at_field(f"{look.axle}_look"):
            note_surface(
                by=by, at=at, tire=tires[look.axle], look=look.look, seen_at=read_at, zone=look.zone,
                key=uuid.uuid5(stint.pk, f"{look.axle} look"),
            )  # fmt: skip
    return doubts


@contextmanager
def _at_field(name: str) -> Iterator[None]:
    """Have a refusal name the field of the whole form that its value came from."""
    try:
        yield
    except Refusal as refusal:
        refusal.field = name
        raise
