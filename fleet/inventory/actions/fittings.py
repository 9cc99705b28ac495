"""Writes of tires and fittings."""

import uuid
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import Actor, Service, author
from fleet.accounts.trail import kept_by, note, note_made
from fleet.catalogue.models import TireSpec
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.garage.models import Rider, WheelPair
from fleet.inventory.actions.access import require_rider_or_crew, require_serving_crew
from fleet.inventory.actions.available import check_available, check_hands, refuse_handed_over
from fleet.inventory.actions.reserving import Sale, use_reservation
from fleet.inventory.actions.stock import price_of, write_line
from fleet.inventory.errors import (
    FittedBeforeMade,
    FittedSince,
    NotTheOwner,
    Recalled,
    TireOnHold,
    WrongAxle,
)
from fleet.inventory.identification import exists_on, made_on, new_label_code, plant_of
from fleet.inventory.models import Fitting, JobTicket, Lot, Place, StockMovement, Tire
from fleet.inventory.queries import is_on_hold
from fleet.inventory.recalls import recalls_of
from fleet.inventory.reservation import Reservation
from fleet.inventory.revisions import ASSESS, DRAFT, TELL_RECALLED, hold_still, touch
from fleet.records import CLOCK_SLACK, check_past, earlier, once, store, void


@transaction.atomic
def add_own_tire(
    *,
    by: Actor,
    at: datetime,
    rider: Rider,
    spec: TireSpec,
    identification: str = "",
    label_code: str = "",
    vendor: Organisation | None = None,
) -> Tire:
    """Store a tire a rider bought elsewhere; its date code may be unknown, and then its age is unknown."""
    require_rider_or_crew(by, rider, vendor)
    made = (
        made_on(identification, seen_on=at.date(), field="identification") if identification.strip() else None
    )
    tire = store(
        Tire(
            spec=spec,
            owner=rider,
            identification=identification.strip().upper(),
            made_on=made,
            plant=plant_of(identification, seen_on=at.date()),
            label_code=label_code or new_label_code(),
        )
    )
    wake(TELL_RECALLED)
    return note_made(tire, by=by, **kept_by(vendor, rider=rider.pk))


@once
@transaction.atomic
def fit_tire(
    *,
    by: Actor,
    at: datetime,
    wheel_pair: WheelPair,
    axle: str,
    fitted_at: datetime,
    vendor: Organisation | None = None,
    lot: Lot | None = None,
    place: str = Place.TRAILER,
    tire: Tire | None = None,
    identification: str = "",
    label_code: str = "",
    ticket: JobTicket | None = None,
    unit_price: Decimal | None = None,
    despite: Sequence[str] = (),
    reservation: Reservation | None = None,
    despite_reserved: str = "",
    key: uuid.UUID | None = None,
) -> Fitting:
    """Put a tire on an axle: one from a lot (the ledger drops by one in the same transaction), or the rider's own.

    ``despite`` is what somebody read that speaks against it, and fitted it all the same: it stays in the trail.
    What the rider reserved is used up; a tire kept for somebody else is refused, unless a stock manager says why.
    """
    rider = wheel_pair.bike.rider
    vendor = _allowed_vendor(by, rider, lot, vendor)
    origin = {"tire__lot_id": lot.pk} if lot else {"tire_id": tire.pk if tire else None}
    if stored := earlier(Fitting, key, wheel_pair_id=wheel_pair.pk, axle=axle, fitted_at=fitted_at, **origin):
        return stored
    check_past("fitted_at", fitted_at, at=at)
    _check_ticket(ticket, wheel_pair, vendor)
    movement = None
    if lot is not None and tire is None:
        sale = Sale(lot, place, 1, fitted_at, rider, reservation, despite_reserved)
        tire, movement = _from_stock(sale, by, at, rider, identification, label_code, unit_price, key)
    elif lot is None and tire is not None:
        hold_still(tire.pk)
        check_hands(tire, fitted_at)
        check_available(tire, fitted_at)
    else:
        raise Invalid(
            "A fitting takes a tire from a lot or one of the rider's own: give exactly one.", field="lot"
        )
    _check_fits(tire, rider, axle, fitted_at)
    if not isinstance(by, Service):
        _refuse_recalled(tire, fitted_at)
    fitting = store(
        Fitting(
            id=key or uuid.uuid4(),
            tire=tire,
            wheel_pair=wheel_pair,
            axle=axle,
            fitted_at=fitted_at,
            vendor=vendor,
            ticket=ticket,
            movement=movement,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    if despite:
        note(
            fitting,
            What.ACKNOWLEDGED,
            by=by,
            after={"despite": " ".join(despite)},
            **kept_by(vendor, rider=rider.pk),
        )
    touch(tire.pk)
    wake(ASSESS, DRAFT)
    return fitting


@transaction.atomic
def void_fitting(*, by: Actor, at: datetime, fitting: Fitting, reason: str) -> Fitting:
    """Mark a fitting as wrong; a tire that came from stock goes back into its lot's ledger.

    What a vendor fitted only its crew voids; a fitting on which a stint ran is kept until that stint is voided.
    """
    require_rider_or_crew(by, fitting.wheel_pair.bike.rider, fitting.vendor)
    fitting.refresh_from_db(from_queryset=Fitting.objects.select_for_update(no_key=True))
    hold_still(fitting.tire_id)
    refuse_handed_over(fitting)
    again = fitting.tire.fittings.filter(voided_at__isnull=True).exclude(pk=fitting.pk)
    if fitting.movement is not None and again.exists():
        raise FittedSince("This tire was fitted again since it left the stock: void that fitting first.")
    void(fitting, by=author(by), at=at, reason=reason)
    for removal in fitting.removals.filter(voided_at__isnull=True):
        void(removal, by=author(by), at=at, reason=reason)
    if fitting.movement is not None:
        void(fitting.movement, by=author(by), at=at, reason=reason)
    touch(fitting.tire_id)
    wake(ASSESS, DRAFT)
    return fitting


def _from_stock(
    sale: Sale,
    by: Actor,
    at: datetime,
    rider: Rider,
    identification: str,
    label_code: str,
    unit_price: Decimal | None,
    key: uuid.UUID | None,
) -> tuple[Tire, StockMovement]:
    lot, fitted_at = sale.lot, sale.moved_at
    if identification.strip():
        made = made_on(identification, seen_on=fitted_at.date(), field="identification")
        if made != lot.made_on:
            raise Invalid(
                f"This number names another week of manufacture than the lot ({lot.date_code}): check the number, or "
                "choose the lot the tire came from.",
                field="identification",
            )
    movement = write_line(
        by=by,
        at=at,
        lot=lot,
        kind=StockMovement.Kind.FITTED,
        place=sale.place,
        quantity=-1,
        moved_at=fitted_at,
        reason=sale.despite.strip(),
        unit_price=price_of(lot, unit_price, by=by),
        reservation=use_reservation(sale, by=by),
        key=uuid.uuid5(key, "movement") if key else None,
    )
    tire = store(
        Tire(
            spec=lot.spec,
            lot=lot,
            owner=rider,
            identification=identification.strip().upper(),
            made_on=lot.made_on,
            plant=plant_of(identification, seen_on=fitted_at.date()),
            label_code=label_code or new_label_code(),
        )
    )
    return tire, movement


def _allowed_vendor(
    by: Actor, rider: Rider, lot: Lot | None, vendor: Organisation | None
) -> Organisation | None:
    if lot is None:
        require_rider_or_crew(by, rider, vendor)
        return vendor
    require_serving_crew(by, rider, lot.vendor)
    if vendor is not None and vendor.pk != lot.vendor_id:
        raise Invalid("The lot belongs to another vendor: name its own, or none.", field="vendor")
    return lot.vendor


def _check_ticket(ticket: JobTicket | None, wheel_pair: WheelPair, vendor: Organisation | None) -> None:
    if ticket is None:
        return
    if vendor is None or ticket.vendor_id != vendor.pk or ticket.wheel_pair_id != wheel_pair.pk:
        raise Invalid(
            "This ticket is for other wheels or another vendor: choose the ticket these wheels came in with.",
            field="ticket",
        )


def _check_fits(tire: Tire, rider: Rider, axle: str, fitted_at: datetime) -> None:
    if tire.spec.axle != axle:
        raise WrongAxle(
            f"{tire.spec} is a {tire.spec.axle} tire: it does not go on the {axle} axle.", field="axle"
        )
    if tire.owner_id != rider.pk:
        raise NotTheOwner("This tire belongs to another rider: hand it over first.", field="tire")
    if is_on_hold(tire):
        raise TireOnHold(
            "This tire is on hold and is not fitted: ask who placed the hold to lift it.", field="tire"
        )
    if tire.made_on and not exists_on(tire.made_on, fitted_at.date()):
        raise FittedBeforeMade(
            f"This tire was made in the week of {tire.made_on:%d %b %Y}, after that fitting: check the date code "
            "and the time.",
            field="fitted_at",
        )


def _refuse_recalled(tire: Tire, fitted_at: datetime) -> None:
    """Refuse a tire that a notice stops; what was fitted before the notice came is a fact, and stands down at once."""
    for recall in recalls_of([tire.pk]).get(tire.pk, ()):
        if fitted_at >= recall.notice.recorded_at - CLOCK_SLACK:
            raise Recalled(f"{recall} It is not fitted while the notice stands.", field="tire")
