"""Writes of what was read off a tire's sidewall."""

import uuid
from datetime import date, datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, author
from fleet.accounts.trail import correct, kept_by
from fleet.celery import wake
from fleet.inventory.actions.access import require_holder, require_to_hold
from fleet.inventory.errors import FittedBeforeMade
from fleet.inventory.identification import exists_on, made_on, plant_of
from fleet.inventory.models import SidewallReading, Tire
from fleet.inventory.revisions import ASSESS, TELL_RECALLED, touch
from fleet.records import check_past, earlier, once, store, void


@once
@transaction.atomic
def read_sidewall(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    read_for: Organisation,
    identification: str,
    read_at: datetime,
    key: uuid.UUID | None = None,
) -> SidewallReading:
    """Note the number that stands on a tire: it decides from now on which recalls touch it.

    Another reading takes the place of the one before, which is voided and kept. A tire whose age was unknown has one now.
    """
    require_holder(by, read_for)
    require_to_hold(by, tire, read_for, on=at.date())
    identification = identification.strip().upper()
    if stored := earlier(
        SidewallReading, key, tire_id=tire.pk, read_for_id=read_for.pk, identification=identification
    ):
        return stored
    check_past("read_at", read_at, at=at)
    made = made_on(identification, seen_on=read_at.date(), field="identification")
    _check_fittings(tire, made)
    before = SidewallReading.objects.filter(tire=tire, voided_at__isnull=True).first()
    if before is not None:
        void(before, by=author(by), at=at, reason="The sidewall was read again.")
    reading = store(
        SidewallReading(
            id=key or uuid.uuid4(),
            tire=tire,
            read_for=read_for,
            identification=identification,
            made_on=made,
            plant=_plant(tire, identification, made, read_at.date()),
            read_at=read_at,
            replaces=before,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    _complete(by, tire, reading, before)
    touch(tire.pk)
    wake(ASSESS, TELL_RECALLED)
    return reading


def _plant(tire: Tire, identification: str, made: date, read_on: date) -> str:
    """Return the plant read, or the one known before where only the same date was read now."""
    read = plant_of(identification, seen_on=read_on)
    return read or (tire.plant if tire.made_on == made else "")


def _complete(by: Actor, tire: Tire, reading: SidewallReading, before: SidewallReading | None) -> None:
    """Give a tire whose number nobody knew the number read; one from a lot keeps what the lot says."""
    is_known = bool(tire.identification) and (before is None or tire.identification != before.identification)
    if tire.lot_id is None and not is_known:
        correct(
            tire,
            {"identification": reading.identification, "made_on": reading.made_on, "plant": reading.plant},
            by=by,
            **kept_by(reading.read_for, rider=tire.owner_id),
        )


def _check_fittings(tire: Tire, made: date) -> None:
    first = tire.fittings.filter(voided_at__isnull=True).order_by("fitted_at").first()
    if first is not None and not exists_on(made, first.fitted_at.date()):
        raise FittedBeforeMade(
            f"This tire was fitted on {first.fitted_at:%d %b %Y}, before the week this number names "
            f"({made:%d %b %Y}): read it again.",
            field="identification",
        )
