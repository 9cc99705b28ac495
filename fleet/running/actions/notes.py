"""Writes of adjustments, feel notes and surface notes."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, author
from fleet.celery import wake
from fleet.garage.models import WheelPair
from fleet.garage.queries import require_owner
from fleet.inventory.models import Tire
from fleet.inventory.ownership import holder_then
from fleet.inventory.revisions import ASSESS, touch
from fleet.photos.actions import keep_photo
from fleet.records import check_past, earlier, once, store
from fleet.running.actions.access import check_standing, require_measurer
from fleet.running.models import Adjustment, FeelNote, Stint, SurfaceNote


@once
@transaction.atomic
def adjust(
    *,
    by: Actor,
    at: datetime,
    wheel_pair: WheelPair,
    part: str,
    after: float,
    unit: str,
    made_at: datetime,
    before: float | None = None,
    key: uuid.UUID | None = None,
) -> Adjustment:
    """Store one change to the bike."""
    require_owner(by, wheel_pair.bike.rider)
    if stored := earlier(
        Adjustment,
        key,
        wheel_pair_id=wheel_pair.pk,
        part=part,
        before=before,
        after=after,
        unit=unit,
        made_at=made_at,
    ):
        return stored
    check_past("made_at", made_at, at=at)
    return store(
        Adjustment(
            id=key or uuid.uuid4(),
            wheel_pair=wheel_pair,
            part=part,
            before=before,
            after=after,
            unit=unit,
            made_at=made_at,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


@once
@transaction.atomic
def note_feel(
    *,
    by: Actor,
    at: datetime,
    stint: Stint,
    feel: str,
    phase: str = "",
    words: str = "",
    key: uuid.UUID | None = None,
) -> FeelNote:
    """Store what the rider felt in a stint."""
    require_owner(by, stint.wheel_pair.bike.rider)
    if stored := earlier(FeelNote, key, stint_id=stint.pk, feel=feel, phase=phase, words=words):
        return stored
    check_standing(stint)
    return store(
        FeelNote(
            id=key or uuid.uuid4(),
            stint=stint,
            feel=feel,
            phase=phase,
            words=words,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


@once
@transaction.atomic
def note_surface(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    look: str,
    seen_at: datetime,
    zone: str = "",
    words: str = "",
    photo: bytes | None = None,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> SurfaceNote:
    """Store what a tread surface showed, with a photo or without; a cut or cord is damage and counts in the next assessment."""
    require_measurer(by, holder_then(by, tire, seen_at, vendor), vendor)
    if stored := earlier(
        SurfaceNote, key, tire_id=tire.pk, look=look, seen_at=seen_at, zone=zone, words=words
    ):
        return stored
    check_past("seen_at", seen_at, at=at)
    note = store(
        SurfaceNote(
            id=key or uuid.uuid4(),
            tire=tire,
            look=look,
            seen_at=seen_at,
            zone=zone,
            words=words,
            photo=keep_photo(at=at, data=photo) if photo else None,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    touch(tire.pk)
    wake(ASSESS)
    return note
