"""Writes of lots and their ledger."""

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, author, require
from fleet.accounts.trail import kept_by, note_made
from fleet.catalogue.models import TireSpec
from fleet.errors import Invalid
from fleet.inventory.actions.reserving import Sale, use_reservation
from fleet.inventory.errors import Recalled
from fleet.inventory.identification import made_on
from fleet.inventory.models import Lot, Place, StockMovement
from fleet.inventory.queries import left_at, listed_price
from fleet.inventory.recalls import recalls_of_lots
from fleet.inventory.reservation import Reservation
from fleet.records import CLOCK_SLACK, check_past, earlier, once, store, void

PRICED: Final = {StockMovement.Kind.FITTED, StockMovement.Kind.SOLD, StockMovement.Kind.RETURNED}
"""Lines that have a price: what a rider paid for a tire, or got back for it."""
MOST_AT_ONCE: Final = 10_000  # a slip of the thumb lies above: no truck carries as many
_WRITTEN_WITH = {
    StockMovement.Kind.FITTED: "a fitting",
    StockMovement.Kind.LOADED: "a loading, which moves the same number out of the other place",
}

_UNDONE_BY = {
    StockMovement.Kind.FITTED: "This line belongs to a fitting: void the fitting, and the tire is back in its lot.",
    StockMovement.Kind.LOADED: "This line is one of a pair: load the same number the other way instead.",
}


@once
@transaction.atomic
def receive_lot(
    *,
    by: Actor,
    at: datetime,
    vendor: Organisation,
    spec: TireSpec,
    code: str,
    date_code: str,
    quantity: int,
    received_at: datetime,
    place: str = Place.STORE,
    unit_cost: Decimal | None = None,
    key: uuid.UUID | None = None,
) -> Lot:
    """Store a delivery and its first ledger line; the same key again returns the same lot."""
    require(by, Right.MANAGE_STOCK, vendor)
    if stored := earlier(
        StockMovement,
        key,
        kind=StockMovement.Kind.RECEIVED,
        place=place,
        quantity=quantity,
        lot__vendor_id=vendor.pk,
        lot__spec_id=spec.pk,
        lot__code=code,
        lot__date_code=date_code,
    ):
        return stored.lot
    if not vendor.is_vendor:
        raise Invalid("Stock is kept by a vendor; this organisation is an organiser only.", field="vendor")
    check_past("received_at", received_at, at=at)
    lot = store(
        Lot(
            vendor=vendor,
            spec=spec,
            code=code,
            date_code=date_code,
            made_on=made_on(date_code, seen_on=received_at.date(), field="date_code"),
            unit_cost=unit_cost,
        )
    )
    note_made(lot, by=by, **kept_by(vendor))
    write_line(
        by=by,
        at=at,
        lot=lot,
        kind=StockMovement.Kind.RECEIVED,
        place=place,
        quantity=quantity,
        moved_at=received_at,
        key=key,
    )
    return lot


@once
@transaction.atomic
def move_stock(
    *,
    by: Actor,
    at: datetime,
    lot: Lot,
    kind: str,
    place: str,
    quantity: int,
    moved_at: datetime,
    reason: str = "",
    unit_price: Decimal | None = None,
    reservation: Reservation | None = None,
    despite_reserved: str = "",
    key: uuid.UUID | None = None,
) -> StockMovement:
    """Store one ledger line that stands for itself; only the service (import) writes the others one by one.

    A sale may hand a rider what is reserved; one that leaves too few for those who reserved says why it is made all the
    same (``despite_reserved``).
    """
    require(by, Right.MANAGE_STOCK, lot.vendor)
    if stored := earlier(StockMovement, key, lot_id=lot.pk, kind=kind, place=place, quantity=quantity):
        return stored
    if kind in _WRITTEN_WITH and not isinstance(by, Service):
        raise Invalid(
            f"A line of this kind is written together with {_WRITTEN_WITH[StockMovement.Kind(kind)]}: log that instead.",
            field="kind",
        )
    if kind in {StockMovement.Kind.COUNTED, StockMovement.Kind.WRITTEN_OFF} and not reason.strip():
        raise Invalid("A count or a write-off says why: give a reason.", field="reason")
    if reservation is not None and kind != StockMovement.Kind.SOLD and not isinstance(by, Service):
        raise Invalid(
            "Only a sale hands over what is reserved: leave the reservation out.", field="reservation"
        )
    if kind == StockMovement.Kind.SOLD and not isinstance(by, Service):
        _refuse_recalled(lot, moved_at)
        sale = Sale(lot, place, -quantity, moved_at, reservation=reservation, despite=despite_reserved)
        reservation = use_reservation(sale, by=by)
    return write_line(
        by=by,
        at=at,
        lot=lot,
        kind=kind,
        place=place,
        quantity=quantity,
        moved_at=moved_at,
        reason=" ".join(filter(None, (reason.strip(), despite_reserved.strip()))),
        unit_price=price_of(lot, unit_price, by=by) if kind in PRICED else None,
        reservation=reservation,
        key=key,
    )


@once
@transaction.atomic
def count_stock(
    *,
    by: Actor,
    at: datetime,
    lot: Lot,
    place: str,
    counted: int,
    counted_at: datetime | None = None,
    reason: str = "",
    key: uuid.UUID | None = None,
) -> StockMovement | None:
    """Store by how many tires a count differs from the ledger, with the reason; nothing where both agree.

    A count written down later (``counted_at``) is held to what the ledger says of that moment.
    """
    require(by, Right.MANAGE_STOCK, lot.vendor)
    counted_at = counted_at or at
    check_past("counted_at", counted_at, at=at)
    if stored := earlier(StockMovement, key, lot_id=lot.pk, kind=StockMovement.Kind.COUNTED, place=place):
        return stored
    if counted < 0:
        raise Invalid("A count is 0 or more: give the tires that are there.", field="counted")
    Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    expected = left_at(lot, place, until=counted_at)
    if counted == expected:
        return None
    if not reason.strip():
        raise Invalid(
            f"The ledger says {expected} and you counted {counted}: say why, as far as you know.",
            field="reason",
        )
    return write_line(
        by=by,
        at=at,
        lot=lot,
        kind=StockMovement.Kind.COUNTED,
        place=place,
        quantity=counted - expected,
        moved_at=counted_at,
        reason=reason,
        key=key,
    )


@transaction.atomic
def void_movement(*, by: Actor, at: datetime, movement: StockMovement, reason: str) -> StockMovement:
    """Mark a ledger line as wrong; one written together with something else is undone by what it belongs to."""
    require(by, Right.MANAGE_STOCK, movement.lot.vendor)
    if movement.kind in _WRITTEN_WITH and not isinstance(by, Service):
        raise Invalid(_UNDONE_BY[StockMovement.Kind(movement.kind)])
    void(movement, by=author(by), at=at, reason=reason)
    return movement


def write_line(
    *,
    by: Actor,
    at: datetime,
    lot: Lot,
    kind: str,
    place: str,
    quantity: int,
    moved_at: datetime,
    reason: str = "",
    unit_price: Decimal | None = None,
    reservation: Reservation | None = None,
    key: uuid.UUID | None = None,
) -> StockMovement:
    """Store a ledger line for an action that checked the right to it; the database keeps the stock above zero."""
    if stored := earlier(StockMovement, key, lot_id=lot.pk, kind=kind, place=place, quantity=quantity):
        return stored
    check_past("moved_at", moved_at, at=at)
    if abs(quantity) > MOST_AT_ONCE:
        raise Invalid(
            f"{abs(quantity)} tires at once are more than any delivery or count ({MOST_AT_ONCE} at most): check the "
            "number.",
            field="quantity",
        )
    return store(
        StockMovement(
            id=key or uuid.uuid4(),
            lot=lot,
            kind=kind,
            place=place,
            quantity=quantity,
            moved_at=moved_at,
            reason=reason,
            unit_price=unit_price,
            reservation=reservation,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


def price_of(lot: Lot, given: Decimal | None, *, by: Actor) -> Decimal | None:
    """Return the price a line keeps: the one given, or the listed one; what the service imports stays as it was."""
    return given if given is not None or isinstance(by, Service) else listed_price(lot)


@once
@transaction.atomic
def load_stock(
    *, by: Actor, at: datetime, lot: Lot, quantity: int, loaded_at: datetime, key: uuid.UUID | None = None
) -> None:
    """Move tires from the store to the trailer (or back, with a negative quantity): two lines that cancel out."""
    require(by, Right.MANAGE_STOCK, lot.vendor)
    key = key or uuid.uuid4()
    for place, sign in ((Place.STORE, -1), (Place.TRAILER, 1)):
        write_line(
            by=by,
            at=at,
            lot=lot,
            kind=StockMovement.Kind.LOADED,
            place=place,
            quantity=sign * quantity,
            moved_at=loaded_at,
            key=uuid.uuid5(key, place),
        )


def _refuse_recalled(lot: Lot, moved_at: datetime) -> None:
    for recall in recalls_of_lots([lot.pk]).get(lot.pk, ()):
        if moved_at >= recall.notice.recorded_at - CLOCK_SLACK:
            raise Recalled(f"{recall} Nothing of lot {lot} is sold while the notice stands.", field="lot")
