"""Writes of holds."""

import uuid
from datetime import date, datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import SHARED_AFTER_EVENT, Actor, Right, Service, author, may, require
from fleet.celery import wake
from fleet.errors import Invalid, NotFound
from fleet.garage.models import Rider
from fleet.inventory.errors import HoldLifted
from fleet.inventory.models import Hold, Tire
from fleet.inventory.queries import serves
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
    _require_right(by, placed_for)
    _require_reach(by, tire, placed_for, on=at.date())
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
    _require_right(by, hold.placed_for)
    if not reason.strip():
        raise Invalid("A hold is lifted with a reason: say what was checked.", field="reason")
    lifted = Hold.objects.filter(pk=hold.pk, lifted_at__isnull=True).update(
        lifted_at=at, lifted_by=author(by), lift_reason=reason.strip()
    )
    if not lifted:
        raise HoldLifted("This hold was lifted before; nothing was changed.")
    touch(hold.tire_id)
    wake(ASSESS)
    hold.refresh_from_db()
    return hold


def _require_right(by: Actor, placed_for: Organisation) -> None:
    if not may(by, Right.FIT, placed_for):
        require(by, Right.HOLD, placed_for)


def _require_reach(by: Actor, tire: Tire, placed_for: Organisation, *, on: date) -> None:
    """Refuse a hold on a tire that is neither a customer's nor an entrant's: nobody stops a stranger's bike."""
    if isinstance(by, Service):
        return
    is_customers = serves(placed_for, tire.owner) or (tire.lot and tire.lot.vendor_id == placed_for.pk)
    if may(by, Right.FIT, placed_for) and is_customers:
        return
    # Entries belong to a subject above this one: the relation is followed by its name, nothing is imported.
    entered = Rider.objects.filter(
        pk=tire.owner_id,
        entries__day__event__organiser=placed_for,
        entries__day__date__gte=on - SHARED_AFTER_EVENT,
    )
    if not (may(by, Right.HOLD, placed_for) and entered.exists()):
        raise NotFound("There is no such tire for you: holds are for customers' and entrants' tires.")
