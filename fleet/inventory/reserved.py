"""What actions and the clock do to a reservation alike: look at it again, end it, and tell its rider once."""

import uuid
from datetime import datetime
from typing import Final

from django.db import transaction

from fleet.accounts.models import What
from fleet.accounts.policy import SERVICE, Actor, author
from fleet.accounts.trail import kept_by, note
from fleet.inventory.availability import due, reservations
from fleet.inventory.errors import ReservationOver
from fleet.inventory.models import Listing
from fleet.inventory.reservation import Reservation
from fleet.notices.actions import tell

TOPIC: Final = "reservation"
Ended, State = Reservation.End, Reservation.State


def hold_listing(vendor: uuid.UUID, spec: uuid.UUID) -> bool:
    """Make others who sell or reserve tires of this kind at this vendor wait; whether it sells them is returned."""
    held = Listing.objects.select_for_update(no_key=True).filter(vendor=vendor, spec=spec)
    return bool(list(held.values_list("pk")))


def again(row: Reservation) -> Reservation:
    """Return a reservation as it stands now, with what was taken of it."""
    return reservations().select_related("rider__person", "vendor", "spec__line").get(pk=row.pk)


@transaction.atomic
def close_reservation(
    reservation: Reservation, how: str, *, by: Actor, at: datetime, reason: str = ""
) -> Reservation:
    """Write down how a reservation ended, for whoever was found to have the right; one that is over is refused."""
    before = again(reservation)
    open_still = Reservation.objects.filter(pk=before.pk, ended_at__isnull=True)
    if not before.is_open or not open_still.update(
        ended_at=at, ended_as=how, ended_by=author(by), end_reason=reason.strip()
    ):
        raise ReservationOver(
            "This reservation was taken or has ended before; nothing was changed.", field="reservation"
        )
    after = again(reservation)
    owners = kept_by(after.vendor, rider=after.rider_id)
    if how == Ended.WITHDRAWN:
        owners["on_behalf_of"] = None
    told = {"state": after.state, "end_reason": after.end_reason}
    note(after, What.WITHDRAWN, by=by, before={"state": before.state}, after=told, **owners)
    return after


def expire_reservations(*, at: datetime) -> int:
    """Let go what nobody came for: its day is over everywhere, and half a day more; the number is returned."""
    ended = 0
    for reservation in due(at):
        try:
            _end_late(reservation, at)
        except ReservationOver:
            continue  # taken, or ended by another worker, since it was read
        ended += 1
    return ended


@transaction.atomic
def _end_late(reservation: Reservation, at: datetime) -> None:
    tell_rider(close_reservation(reservation, Ended.EXPIRED, by=SERVICE, at=at), at)


def tell_rider(row: Reservation, at: datetime) -> None:
    """Tell the rider, once for each step, in the transaction that takes it."""
    if row.rider.person is None:
        return
    tires = f"{row.left} of {row.spec}, wanted on {row.wanted_on:%-d %b %Y}"
    said = {
        State.KEPT: f"{row.vendor} keeps for you: {tires}.",
        State.READY: f"Ready at {row.vendor}'s trailer: {tires}.",
        State.RELEASED: f"{row.vendor} released your reservation of {tires}: {row.end_reason}",
        State.EXPIRED: f"Nobody came for your reservation at {row.vendor}, so it is over: {tires}.",
    }[State(row.state)]
    tell([row.rider.person], topic=TOPIC, about=f"{row.pk}:{row.state}", sentence=said[:400], at=at)
