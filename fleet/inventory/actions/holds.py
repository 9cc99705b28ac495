"""Writes of holds."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import Actor, author
from fleet.accounts.trail import kept_by, note
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.inventory.actions.access import require_holder, require_to_hold
from fleet.inventory.errors import HoldLifted
from fleet.inventory.models import Hold, Tire
from fleet.inventory.revisions import ASSESS, touch
from fleet.records import check_past, earlier, once, store


@once
@transaction.atomic
def place_hold(
    *,
    by: Actor,
    at: datetime,
    tire: Tire,
    placed_for: Organisation,
    reason: str,
    placed_at: datetime,
    note: str = "",
    key: uuid.UUID | None = None,
) -> Hold:
    """Stop a tire from being used: an organiser's inspector an entrant's, a vendor's crew a customer's."""
    require_holder(by, placed_for)
    require_to_hold(by, tire, placed_for, on=at.date())
    if stored := earlier(Hold, key, tire_id=tire.pk, placed_for_id=placed_for.pk, reason=reason):
        return stored
    check_past("placed_at", placed_at, at=at)
    hold = store(
        Hold(
            id=key or uuid.uuid4(),
            tire=tire,
            placed_for=placed_for,
            reason=reason,
            note=note,
            placed_at=placed_at,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    touch(tire.pk)
    wake(ASSESS)
    return hold


@transaction.atomic
def lift_hold(*, by: Actor, at: datetime, hold: Hold, reason: str) -> Hold:
    """Let a tire be used again; only the organisation that placed the hold lifts it, with a reason."""
    require_holder(by, hold.placed_for)
    if not reason.strip():
        raise Invalid("A hold is lifted with a reason: say what was checked.", field="reason")
    lifted = Hold.objects.filter(pk=hold.pk, lifted_at__isnull=True).update(
        lifted_at=at, lifted_by=author(by), lift_reason=reason.strip()
    )
    if not lifted:
        raise HoldLifted("This hold was lifted before; nothing was changed.")
    note(
        hold,
        What.LIFTED,
        by=by,
        after={"lifted_at": at, "lift_reason": reason.strip()},
        **kept_by(hold.placed_for, rider=hold.tire.owner_id),
    )
    touch(hold.tire_id)
    wake(ASSESS)
    hold.refresh_from_db()
    return hold
