"""Writes of inspections."""

import uuid
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, author, require
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.inventory.actions.access import require_to_hold
from fleet.inventory.actions.holds import place_hold
from fleet.inventory.errors import Recalled, TireOnHold
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Hold, Tire
from fleet.inventory.recalls import recalls_of
from fleet.inventory.revisions import ASSESS, touch
from fleet.photos.actions import keep_photo
from fleet.records import check_past, earlier, once, store, void


@once
@transaction.atomic
def inspect_tire(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    inspected_for: Organisation,
    outcome: str,
    inspected_at: datetime,
    words: str = "",
    photo: bytes | None = None,
    hold: Hold | None = None,
    key: uuid.UUID | None = None,
) -> Inspection:
    """Record what tech inspection found on an entrant's tire; one that is held stands under a hold from then on."""
    require(by, Right.HOLD, inspected_for)
    require_to_hold(by, tire, inspected_for, on=at.date())
    if stored := earlier(
        Inspection, key, tire_id=tire.pk, inspected_for_id=inspected_for.pk, outcome=outcome
    ):
        return stored
    check_past("inspected_at", inspected_at, at=at)
    words = words.strip()
    if outcome != Inspection.Outcome.PASS and not words:
        raise Invalid("Say in a few words what was seen: the rider reads it.", field="words")
    if outcome == Inspection.Outcome.PASS and not isinstance(by, Service):
        _refuse_to_pass(tire, inspected_at)
    pk = key or uuid.uuid4()
    if outcome == Inspection.Outcome.HOLD and hold is None:
        hold = _hold_of(inspected_for, tire) or place_hold(
            by=by,
            at=at,
            tire=tire,
            placed_for=inspected_for,
            reason=Hold.Reason.INSPECTION,
            placed_at=inspected_at,
            note=words,
            key=uuid.uuid5(pk, "hold"),
        )
    return store(
        Inspection(
            id=pk,
            tire=tire,
            inspected_for=inspected_for,
            outcome=outcome,
            words=words,
            inspected_at=inspected_at,
            hold=hold,
            photo=keep_photo(at=at, data=photo) if photo else None,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


@transaction.atomic
def void_inspection(*, by: Actor, at: datetime, inspection: Inspection, reason: str) -> Inspection:
    """Take back an inspection that was recorded wrongly, and the hold that rests on nothing else."""
    require(by, Right.HOLD, inspection.inspected_for)
    void(inspection, by=author(by), at=at, reason=reason)
    hold = inspection.hold
    if hold is None or hold.voided_at or hold.lifted_at:
        return inspection
    is_of_it = hold.pk == uuid.uuid5(inspection.pk, "hold")
    if is_of_it and not Inspection.objects.standing().filter(hold=hold).exists():
        void(hold, by=author(by), at=at, reason=reason)
        touch(hold.tire_id)
        wake(ASSESS)
    return inspection


def _hold_of(organisation: Organisation, tire: Tire) -> Hold | None:
    """Return the hold an organisation's inspection has on a tire already: one is lifted once."""
    return (
        Hold.objects.standing()
        .filter(tire=tire, placed_for=organisation, reason=Hold.Reason.INSPECTION, lifted_at__isnull=True)
        .order_by("placed_at", "id")
        .first()
    )


def _refuse_to_pass(tire: Tire, moment: datetime) -> None:
    """Refuse to pass a tire that must not go out; a pass from before the hold, sent later, is stored."""
    held = (
        Hold.objects.standing()
        .filter(Q(lifted_at__isnull=True) | Q(lifted_at__gt=moment), tire=tire, placed_at__lte=moment)
        .select_related("placed_for")
        .first()
    )
    if held is not None:
        raise TireOnHold(
            f"{tire} is on hold for {held.placed_for}: it does not pass before that hold is lifted.",
            field="outcome",
        )
    if found := recalls_of([tire.pk]).get(tire.pk):
        raise Recalled(
            f"{tire} is touched by recall {found[0].notice.reference}: it does not pass while the notice stands.",
            field="outcome",
        )
