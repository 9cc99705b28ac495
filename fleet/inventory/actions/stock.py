"""Writes of lots and their ledger."""

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, author, require
from fleet.catalogue.models import TireSpec
from fleet.errors import Invalid
from fleet.inventory.identification import made_on
from fleet.inventory.models import Lot, Place, StockMovement
from fleet.records import check_past, earlier, once, store

MOST_AT_ONCE: Final = 10_000  # a slip of the thumb lies above: no truck carries as many
_WRITTEN_WITH = {
    StockMovement.Kind.FITTED: "a fitting",
    StockMovement.Kind.LOADED: "a loading, which moves the same number out of the other place",
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
    key: uuid.UUID | None = None,
) -> StockMovement:
    """Store one ledger line that stands for itself; only the service (import) writes the others one by one."""
    require(by, Right.MANAGE_STOCK, lot.vendor)
    if kind in _WRITTEN_WITH and not isinstance(by, Service):
        raise Invalid(
            f"A line of this kind is written together with {_WRITTEN_WITH[StockMovement.Kind(kind)]}: log that instead.",
            field="kind",
        )
    if kind in {StockMovement.Kind.COUNTED, StockMovement.Kind.WRITTEN_OFF} and not reason.strip():
        raise Invalid("A count or a write-off says why: give a reason.", field="reason")
    return write_line(
        by=by,
        at=at,
        lot=lot,
        kind=kind,
        place=place,
        quantity=quantity,
        moved_at=moved_at,
        reason=reason,
        key=key,
    )


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
            recorded_by=author(by),
            recorded_at=at,
        )
    )


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
