"""Writes of removals."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, author
from fleet.celery import wake
from fleet.errors import Invalid, NotAllowed
from fleet.garage.models import Rider
from fleet.inventory.actions.access import require_rider_or_crew
from fleet.inventory.actions.available import refuse_handed_over
from fleet.inventory.actions.holds import place_hold
from fleet.inventory.errors import NotFitted
from fleet.inventory.models import Fitting, Hold, Removal
from fleet.inventory.revisions import ASSESS, DRAFT, hold_still, touch
from fleet.records import check_past, earlier, once, save_changes, store, void


@once
@transaction.atomic
def remove_tire(
    *,
    by: Actor,
    at: datetime,
    fitting: Fitting,
    removed_at: datetime,
    reason: str,
    destination: str,
    vendor: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> Removal:
    """End a fitting; a tire removed on hold gets a hold for the vendor."""
    require_rider_or_crew(by, fitting.wheel_pair.bike.rider, vendor)
    fitting.refresh_from_db(from_queryset=Fitting.objects.select_for_update(no_key=True))
    hold_still(fitting.tire_id)
    if stored := earlier(Removal, key, fitting_id=fitting.pk, reason=reason, destination=destination):
        return stored
    check_past("removed_at", removed_at, at=at)
    if fitting.voided_at or fitting.removed_at:
        raise NotFitted("This tire is on no wheel any more: look at the wheel pair as it is now.")
    fitting.removed_at = removed_at
    save_changes(fitting, "removed_at")
    removal = store(
        Removal(
            id=key or uuid.uuid4(),
            fitting=fitting,
            removed_at=removed_at,
            reason=reason,
            destination=destination,
            vendor=vendor,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    if destination == Removal.Destination.ON_HOLD:
        if vendor is None:
            raise Invalid("A tire goes on hold at a vendor: give the vendor.", field="vendor")
        place_hold(
            by=by,
            at=at,
            tire=fitting.tire,
            placed_for=vendor,
            reason=Hold.Reason.DAMAGE,
            placed_at=removed_at,
            key=uuid.uuid5(removal.pk, "hold"),
        )
    touch(fitting.tire_id)
    wake(ASSESS, DRAFT)
    return removal


@transaction.atomic
def void_removal(
    *, by: Actor, at: datetime, removal: Removal, reason: str, vendor: Organisation | None = None
) -> Removal:
    """Mark a removal as wrong: the tire is on its wheel as before, unless another took its place since.

    What the rider wrote the rider voids, what a crew wrote the crew of a vendor that serves the rider.
    """
    fitting = removal.fitting
    rider = fitting.wheel_pair.bike.rider
    require_rider_or_crew(by, rider, vendor)
    _require_side(removal, rider, is_crew=vendor is not None)
    fitting.refresh_from_db(from_queryset=Fitting.objects.select_for_update(no_key=True))
    hold_still(fitting.tire_id)
    refuse_handed_over(fitting)
    void(removal, by=author(by), at=at, reason=reason)
    fitting.removed_at = None
    save_changes(fitting, "removed_at")
    touch(fitting.tire_id)
    wake(ASSESS, DRAFT)
    return removal


def _require_side(removal: Removal, rider: Rider, *, is_crew: bool) -> None:
    """Refuse to void what the other side wrote; what was imported without its author either may."""
    writer = removal.recorded_by_id
    if writer is None or (writer != rider.person_id) == is_crew:
        return
    raise NotAllowed(
        f"{rider} wrote this removal down: ask the rider to void it."
        if is_crew
        else "A vendor's crew wrote this removal down: ask at the trailer to void it."
    )
