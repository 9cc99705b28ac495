"""Writes of what is wished for each wheel of a ticket."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Required, TypedDict

from django.db import transaction

from fleet.accounts.models import What
from fleet.accounts.policy import Actor, Right, require
from fleet.accounts.trail import Owners, correct, kept_by, note, note_made, values_of
from fleet.catalogue.models import Axle, TireSpec
from fleet.errors import Invalid
from fleet.inventory.errors import NotTheOwner, WrongAxle
from fleet.inventory.models import JobTicket, TicketWish, Tire
from fleet.records import store


class Wished(TypedDict, total=False):
    """What is wished for one wheel; without a tire it is not known yet what goes on."""

    axle: Required[str]
    spec: TireSpec | None
    own_tire: Tire | None
    destination: str


@transaction.atomic
def wish_for_wheel(
    *,
    by: Actor,
    at: datetime,
    ticket: JobTicket,
    axle: str,
    spec: TireSpec | None = None,
    own_tire: Tire | None = None,
    destination: str = "",
) -> TicketWish:
    """Say what goes on a wheel and what happens with what comes off; said again, it takes the place of what was said."""
    require(by, Right.FIT, ticket.vendor)
    _check_tires(ticket, axle, spec, own_tire)
    said: dict[str, Any] = {"spec": spec, "own_tire": own_tire, "destination": destination}
    before = TicketWish.objects.filter(ticket=ticket, axle=axle).first()
    if before is None:
        wish = store(TicketWish(ticket=ticket, axle=axle, wished_at=at, **said))
        return note_made(wish, by=by, **_owners(ticket))
    if any(getattr(before, name) != value for name, value in said.items()):
        correct(before, said | {"wished_at": at}, by=by, **_owners(ticket))
    return before


def put_wishes(*, by: Actor, at: datetime, ticket: JobTicket, wishes: Sequence[Wished]) -> None:
    """Leave exactly these wishes on a ticket: what is not among them is taken off it."""
    axles = [wish["axle"] for wish in wishes]
    if len(set(axles)) < len(axles):
        raise Invalid("Each wheel has one wish: name front and rear once each.", field="wishes")
    with transaction.atomic():
        for gone in TicketWish.objects.filter(ticket=ticket).exclude(axle__in=axles):
            note(gone, What.DELETED, by=by, before=values_of(gone), **_owners(ticket))
            gone.delete()
        for wish in wishes:
            wish_for_wheel(by=by, at=at, ticket=ticket, **wish)


def _check_tires(ticket: JobTicket, axle: str, spec: TireSpec | None, own_tire: Tire | None) -> None:
    if axle not in Axle.values:
        raise Invalid(f"{axle!r} is no wheel: use front or rear.", field="axle")
    for field, of in (("spec", spec), ("own_tire", own_tire.spec if own_tire else None)):
        if of is not None and of.axle != axle:
            raise WrongAxle(f"{of} is a {of.axle} tire: wish for a {axle} one.", field=field)
    if own_tire is not None and own_tire.owner_id != ticket.wheel_pair.bike.rider_id:
        raise NotTheOwner(
            "This tire belongs to another rider: choose one of this rider's own.", field="own_tire"
        )


def _owners(ticket: JobTicket) -> Owners:
    return kept_by(ticket.vendor, rider=ticket.wheel_pair.bike.rider_id)
