"""Selling beside reservations: what is kept for riders is not sold to others, and what a rider takes uses theirs up."""

from datetime import datetime
from typing import Any, NamedTuple

from fleet.accounts.policy import Actor, Right, Service, require
from fleet.errors import Invalid
from fleet.garage.models import Rider
from fleet.inventory.availability import counted, open_of, open_reservations
from fleet.inventory.errors import Reserved
from fleet.inventory.models import Lot, Place
from fleet.inventory.recalls import recalls_of_lots
from fleet.inventory.reservation import Reservation
from fleet.inventory.reserved import hold_listing
from fleet.records import CLOCK_SLACK


class Sale(NamedTuple):
    """Tires about to leave a lot: how many, from where, when, and for whom; ``despite`` is why others' are sold."""

    lot: Lot
    place: str
    quantity: int
    moved_at: datetime
    rider: Rider | None = None
    reservation: Reservation | None = None
    despite: str = ""


def use_reservation(sale: Sale, *, by: Actor) -> Reservation | None:
    """Return the reservation a sale takes from; a sale that leaves too few for the others is refused.

    What left the shelf before a reservation was made is a fact, whenever it is written down: the reservation is then
    short. What the service replays is stored as it was.
    """
    if isinstance(by, Service):
        return sale.reservation
    hold_listing(sale.lot.vendor_id, sale.lot.spec_id)
    made_by = sale.moved_at + CLOCK_SLACK
    kept = open_reservations().filter(vendor=sale.lot.vendor_id, spec=sale.lot.spec_id)
    if not kept.filter(recorded_at__lte=made_by).exists():
        _check_own(sale, None)
        return None
    own = _own(sale, made_by)
    _check_own(sale, own)
    if not recalls_of_lots([sale.lot.pk]):
        _check_others(sale, own, by, made_by)
    return own


def _own(sale: Sale, made_by: datetime) -> Reservation | None:
    if sale.reservation is not None:
        return open_reservations().filter(pk=sale.reservation.pk).first()
    if sale.rider is None:
        return None
    return open_of(sale.rider, sale.lot.vendor, sale.lot.spec).filter(recorded_at__lte=made_by).first()


def _check_own(sale: Sale, own: Reservation | None) -> None:
    if sale.reservation is None:
        return
    if own is None:
        raise Invalid(
            "Nothing of this reservation is left to hand over: choose another one, or none.",
            field="reservation",
        )
    if (own.vendor_id, own.spec_id) != (sale.lot.vendor_id, sale.lot.spec_id):
        raise Invalid(
            "This reservation is of another kind of tire or at another vendor: choose one of this kind.",
            field="reservation",
        )
    if sale.quantity > own.left:
        raise Invalid(
            f"{own.left} of this reservation {_are(own.left)} left to hand over: sell the others by themselves.",
            field="quantity",
        )


def _check_others(sale: Sale, own: Reservation | None, by: Actor, made_by: datetime) -> None:
    """Refuse a sale that others' reservations forbid, unless a stock manager says why it is made all the same."""
    listed: Any = counted(made_by=made_by).filter(vendor=sale.lot.vendor_id, spec=sale.lot.spec_id).first()
    if listed is None:
        return
    beyond = sale.quantity - (min(sale.quantity, own.left) if own else 0)
    beyond_aside = sale.quantity - (min(sale.quantity, own.left) if own and own.ready_at else 0)
    free_here = listed.on_trailer - listed.set_aside
    is_short = beyond > 0 and listed.free < beyond
    is_short_here = sale.place == Place.TRAILER and beyond_aside > 0 and free_here < beyond_aside
    if not (is_short or is_short_here):
        return
    if sale.despite.strip():
        require(by, Right.MANAGE_STOCK, sale.lot.vendor)
        return
    if is_short:
        there, kept, where = listed.in_store + listed.on_trailer, listed.reserved, ""
    else:
        there, kept, where = listed.on_trailer, listed.set_aside, " on the trailer"
    raise Reserved(
        f"{there} of this kind {_are(there)} left{where} and {kept} {_are(kept)} kept for riders who reserved: hand "
        f"{'it' if kept == 1 else 'them'} to those, or choose another kind. A stock manager may release a reservation, or "
        "sell all the same and say why.",
        field="lot",
    )


def _are(number: int) -> str:
    return "is" if number == 1 else "are"
