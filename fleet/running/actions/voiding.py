"""Voiding of readings and notes."""

from datetime import datetime

from django.db import transaction

from fleet.accounts.policy import Actor, Service, author
from fleet.celery import wake
from fleet.errors import NotFound
from fleet.events.revisions import touch_days
from fleet.garage.queries import require_owner
from fleet.inventory.ownership import records_of, theirs_then
from fleet.inventory.revisions import ASSESS, DRAFT, touch
from fleet.records import void
from fleet.running.models import Adjustment, FeelNote, PressureReading, Reading, SurfaceNote
from fleet.running.queries import taken_by


@transaction.atomic
def void_reading(*, by: Actor, at: datetime, reading: Reading | SurfaceNote, reason: str) -> None:
    """Mark a reading or a surface note as wrong: by whose tire it was then, or by whoever took it and still works there."""
    when = "seen_at" if isinstance(reading, SurfaceNote) else "taken_at"
    may_void = taken_by(by) | theirs_then(records_of(by), when)
    if not isinstance(by, Service) and not type(reading).objects.filter(may_void, pk=reading.pk).exists():
        raise NotFound("There is no such reading for you: its author or who had the tire then voids it.")
    void(reading, by=author(by), at=at, reason=reason)
    touch(reading.tire_id)
    if isinstance(reading, PressureReading) and reading.stint is not None and reading.stint.day_id:
        touch_days(reading.stint.day_id)
    wake(ASSESS, DRAFT)


@transaction.atomic
def void_note(*, by: Actor, at: datetime, note: FeelNote, reason: str) -> None:
    """Mark a feel note as wrong."""
    require_owner(by, note.stint.wheel_pair.bike.rider)
    void(note, by=author(by), at=at, reason=reason)


@transaction.atomic
def void_adjustment(*, by: Actor, at: datetime, adjustment: Adjustment, reason: str) -> None:
    """Mark an adjustment as wrong."""
    require_owner(by, adjustment.wheel_pair.bike.rider)
    void(adjustment, by=author(by), at=at, reason=reason)
