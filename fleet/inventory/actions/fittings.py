"""Writes of tires, fittings and removals."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, author, require
from fleet.catalogue.models import TireSpec
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.garage.models import Rider, WheelPair
from fleet.garage.queries import owns
from fleet.inventory.actions.holds import place_hold
from fleet.inventory.actions.stock import move_stock
from fleet.inventory.errors import FittedBeforeMade, NotFitted, NotTheOwner, TireOnHold, WrongAxle
from fleet.inventory.identification import made_on, new_label_code
from fleet.inventory.models import Fitting, Hold, JobTicket, Lot, Place, Removal, StockMovement, Tire
from fleet.inventory.queries import is_on_hold, serves
from fleet.inventory.revisions import ASSESS, DRAFT, touch
from fleet.records import check_past, earlier, save_changes, store, void


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
    _require_rider_or_crew(by, rider, vendor)
    made = (
        made_on(identification, seen_on=at.date(), field="identification") if identification.strip() else None
    )
    return store(
        Tire(
            spec=spec,
            owner=rider,
            identification=identification.strip().upper(),
            made_on=made,
            label_code=label_code or new_label_code(),
        )
    )


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
    key: uuid.UUID | None = None,
) -> Fitting:
    """Put a tire on an axle: one from a lot (the ledger drops by one in the same transaction), or the rider's own."""
    rider = wheel_pair.bike.rider
    if lot is not None:
        vendor = lot.vendor
        require(by, Right.FIT, vendor)
    else:
        _require_rider_or_crew(by, rider, vendor)
    if stored := earlier(Fitting, key, wheel_pair_id=wheel_pair.pk, axle=axle, fitted_at=fitted_at):
        return stored
    if (lot is None) == (tire is None):
        raise Invalid(
            "A fitting takes a tire from a lot or one of the rider's own: give exactly one.", field="lot"
        )
    check_past("fitted_at", fitted_at, at=at)
    movement = None
    if lot is not None:
        tire, movement = _from_stock(by, at, lot, place, rider, fitted_at, identification, label_code, key)
    if tire is None:  # pragma: no cover - excluded above, said for the type checker
        raise Invalid("A fitting needs a tire.", field="tire")
    _check_fits(tire, rider, axle, fitted_at)
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
    touch(tire.pk)
    wake(ASSESS, DRAFT)
    return fitting


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
    _require_rider_or_crew(by, fitting.wheel_pair.bike.rider, vendor)
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
        )
    touch(fitting.tire_id)
    wake(ASSESS, DRAFT)
    return removal


@transaction.atomic
def void_fitting(*, by: Actor, at: datetime, fitting: Fitting, reason: str) -> Fitting:
    """Mark a fitting as wrong; a tire that came from stock goes back into its lot's ledger."""
    _require_rider_or_crew(by, fitting.wheel_pair.bike.rider, fitting.vendor)
    void(fitting, by=author(by), at=at, reason=reason)
    for removal in fitting.removals.filter(voided_at__isnull=True):
        void(removal, by=author(by), at=at, reason=reason)
    if fitting.movement is not None:
        void(fitting.movement, by=author(by), at=at, reason=reason)
    touch(fitting.tire_id)
    wake(ASSESS, DRAFT)
    return fitting


def _from_stock(
    by: Actor,
    at: datetime,
    lot: Lot,
    place: str,
    rider: Rider,
    fitted_at: datetime,
    identification: str,
    label_code: str,
    key: uuid.UUID | None,
) -> tuple[Tire, StockMovement]:
    made = lot.made_on
    if identification.strip():
        made = made_on(identification, seen_on=fitted_at.date(), field="identification")
    movement = move_stock(
        by=by,
        at=at,
        lot=lot,
        kind=StockMovement.Kind.FITTED,
        place=place,
        quantity=-1,
        moved_at=fitted_at,
        key=uuid.uuid5(key, "movement") if key else None,
    )
    tire = store(
        Tire(
            spec=lot.spec,
            lot=lot,
            owner=rider,
            identification=identification.strip().upper(),
            made_on=made,
            label_code=label_code or new_label_code(),
        )
    )
    return tire, movement


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
    if tire.made_on and fitted_at.date() < tire.made_on:
        raise FittedBeforeMade(
            f"This tire was made in the week of {tire.made_on:%d %b %Y}, after that fitting: check the date code "
            "and the time.",
            field="fitted_at",
        )


def _require_rider_or_crew(by: Actor, rider: Rider, vendor: Organisation | None) -> None:
    if owns(by, rider):
        return
    require(by, Right.FIT, vendor)
    if vendor is None or not serves(vendor, rider):
        require(by, Right.FIT, None)
