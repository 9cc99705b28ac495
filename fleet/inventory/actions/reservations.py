"""Writes of reservations: asked for by a rider, confirmed, set aside on the trailer, and ended when nobody comes."""

import uuid
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import Sum

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import Actor, Right, Service, author, may, require
from fleet.accounts.trail import kept_by, note
from fleet.catalogue.models import TireSpec
from fleet.errors import Invalid
from fleet.garage.models import Rider
from fleet.garage.queries import owns
from fleet.inventory.actions.access import require_rider_or_crew
from fleet.inventory.availability import counted, last_day_kept, open_of
from fleet.inventory.errors import NotOffered, ReservationOver, TooFewLeft
from fleet.inventory.reservation import Reservation
from fleet.inventory.reserved import again, close_reservation, hold_listing, tell_rider
from fleet.records import earlier, once, store

MOST_OF_A_KIND: Final = 4  # two sets; asking for more and more would count a vendor's stock
FARTHEST: Final = timedelta(days=366)
Ended = Reservation.End


@once
@transaction.atomic
def reserve(
    *,
    by: Actor,
    at: datetime,
    rider: Rider,
    vendor: Organisation,
    spec: TireSpec,
    quantity: int,
    wanted_on: date,
    key: uuid.UUID | None = None,
) -> Reservation:
    """Keep tires for a rider until a day: the rider's own wish, or written down by the crew of a vendor that serves them."""
    is_own = owns(by, rider) and not isinstance(by, Service)
    require_rider_or_crew(by, rider, None if is_own else vendor)
    about = {"rider_id": rider.pk, "vendor_id": vendor.pk, "spec_id": spec.pk}
    if stored := earlier(Reservation, key, quantity=quantity, wanted_on=wanted_on, **about):
        return again(stored)
    _hold(vendor, spec)
    if not isinstance(by, Service):
        _check_day(wanted_on, at)
        if is_own and not may(by, Right.FIT, vendor):
            _check_share(rider, vendor, spec, quantity)
        _check_free(vendor, spec, quantity, tells_counts=may(by, Right.FIT, vendor))
    row = store(
        Reservation(
            id=key or uuid.uuid4(),
            rider=rider,
            vendor=vendor,
            spec=spec,
            quantity=quantity,
            wanted_on=wanted_on,
            kept_at=None if is_own or isinstance(by, Service) else at,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    return again(row)


@transaction.atomic
def confirm_reservation(*, by: Actor, at: datetime, reservation: Reservation) -> Reservation:
    """Tell the rider that the vendor keeps the tires; once is enough."""
    require(by, Right.FIT, reservation.vendor)
    return _move(reservation, {"kept_at": at}, by=by, at=at)


@transaction.atomic
def set_aside(*, by: Actor, at: datetime, reservation: Reservation) -> Reservation:
    """Put the tires by on the trailer, where enough of them lie, and tell the rider that they are ready."""
    require(by, Right.FIT, reservation.vendor)
    if not isinstance(by, Service):
        _hold(reservation.vendor, reservation.spec)
        _check_on_trailer(reservation)
    return _move(reservation, {"kept_at": reservation.kept_at or at, "ready_at": at}, by=by, at=at)


@transaction.atomic
def end_reservation(*, by: Actor, at: datetime, reservation: Reservation, reason: str = "") -> Reservation:
    """Let the tires go that are not taken yet: the rider without a reason, which is not kept, the vendor's crew with one."""
    if owns(by, reservation.rider) and not isinstance(by, Service):
        return close_reservation(reservation, Ended.WITHDRAWN, by=by, at=at)
    require(by, Right.FIT, reservation.vendor)
    if not reason.strip():
        raise Invalid(
            "A reservation is released with a reason: say it in a few words, the rider reads it.",
            field="reason",
        )
    ended = close_reservation(reservation, Ended.RELEASED, by=by, at=at, reason=reason)
    tell_rider(ended, at)
    return ended


def _hold(vendor: Organisation, spec: TireSpec) -> None:
    """Make others who sell or reserve tires of this kind here wait; a vendor that does not sell it is refused."""
    if not hold_listing(vendor.pk, spec.pk):
        raise NotOffered(f"{vendor} does not sell {spec}: choose a vendor that offers it.", field="vendor")


def _check_day(wanted_on: date, at: datetime) -> None:
    if wanted_on < last_day_kept(at):
        raise Invalid("This day is over: choose one that is still to come.", field="wanted_on")
    if wanted_on > (at + FARTHEST).date():
        raise Invalid("Tires are kept for a year at most: choose an earlier day.", field="wanted_on")


def _check_share(rider: Rider, vendor: Organisation, spec: TireSpec, quantity: int) -> None:
    kept = open_of(rider, vendor, spec).order_by().aggregate(sum=Sum("quantity"))["sum"] or 0
    if quantity + kept > MOST_OF_A_KIND:
        said = f", and {kept} are kept for you already" if kept else ""
        raise Invalid(
            f"{MOST_OF_A_KIND} tires of a kind are kept for one rider{said}: reserve fewer, or ask the vendor for more.",
            field="quantity",
        )


def _check_free(vendor: Organisation, spec: TireSpec, quantity: int, *, tells_counts: bool) -> None:
    listed: Any = counted().filter(vendor=vendor, spec=spec).get()
    if listed.free >= quantity:
        return
    if tells_counts:
        raise TooFewLeft(
            f"{max(listed.free, 0)} of {listed.in_store + listed.on_trailer} are free, {listed.reserved} are kept: reserve "
            "fewer, or release a reservation.",
            field="quantity",
        )
    raise TooFewLeft(
        f"{vendor} has too few of these that are free: reserve fewer, or choose another vendor.",
        field="quantity",
    )


def _check_on_trailer(reservation: Reservation) -> None:
    now = again(reservation)
    listed: Any = counted().filter(vendor=now.vendor, spec=now.spec).get()
    free_here = listed.on_trailer - listed.set_aside
    if not now.ready_at and free_here < now.left:
        raise TooFewLeft(
            f"{max(free_here, 0)} of these lie on the trailer and are not set aside for others; {now.left} are wanted: load "
            "more first.",
            field="quantity",
        )


def _move(reservation: Reservation, moments: dict[str, datetime], *, by: Actor, at: datetime) -> Reservation:
    """Bring an open reservation on, once for each step, and tell the rider."""
    before, step = again(reservation), [*moments][-1]
    waiting = Reservation.objects.filter(pk=before.pk, ended_at__isnull=True, **{f"{step}__isnull": True})
    moved = before.is_open and waiting.update(**moments)
    after = again(reservation)
    if not after.is_open:
        raise ReservationOver(
            "This reservation was taken or has ended: look at the list again.", field="reservation"
        )
    if moved:
        note(
            after,
            What.MOVED,
            by=by,
            before={"state": before.state},
            after={"state": after.state},
            **kept_by(after.vendor, rider=after.rider_id),
        )
        if not isinstance(by, Service):
            tell_rider(after, at)
    return after
