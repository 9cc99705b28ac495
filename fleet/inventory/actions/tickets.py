"""Writes of job tickets: wheels taken in, moved along, and what is wished for them mended."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Final, TypedDict, Unpack

from django.db import transaction
from django.db.models import Max

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import Actor, Right, require
from fleet.accounts.trail import Owners, correct, kept_by, note, note_made, noted
from fleet.errors import Invalid
from fleet.garage.models import WheelPair
from fleet.inventory.actions.access import require_serving_crew
from fleet.inventory.actions.wishes import Wished, put_wishes
from fleet.inventory.errors import TicketMoved, WheelsInAlready
from fleet.inventory.models import JobTicket
from fleet.records import check_past, earlier, once, store

LATEST_PROMISE: Final = timedelta(days=90)
"""A promise further off is a slip of the pen; common practice, no published source."""


class TicketData(TypedDict, total=False):
    """What can be corrected of a ticket beside the wishes for its wheels."""

    wish: str
    promised_at: datetime | None


@once
@transaction.atomic
def take_wheels_in(
    *,
    by: Actor,
    at: datetime,
    vendor: Organisation,
    wheel_pair: WheelPair,
    opened_on: date,
    opened_at: datetime | None = None,
    wish: str = "",
    promised_at: datetime | None = None,
    wishes: Sequence[Wished] = (),
    key: uuid.UUID | None = None,
) -> JobTicket:
    """Open a ticket with the next number of the vendor's day; sent twice under one key, it is opened once.

    ``opened_on`` is the local date; ``opened_at`` is given where the wheels came in before this was written down.
    """
    require_serving_crew(by, wheel_pair.bike.rider, vendor)
    opened_at = opened_at or at
    _check_opening(vendor, opened_on, opened_at, at)
    _check_promise(promised_at, opened_at)
    Organisation.objects.select_for_update(no_key=True).get(pk=vendor.pk)
    same = {"vendor_id": vendor.pk, "wheel_pair_id": wheel_pair.pk, "opened_on": opened_on}
    if stored := earlier(JobTicket, key, **same):
        return stored
    today = JobTicket.objects.filter(vendor=vendor, opened_on=opened_on)
    if open_one := today.filter(wheel_pair=wheel_pair).exclude(state=JobTicket.State.COLLECTED).first():
        raise WheelsInAlready(
            f"These wheels are here already, as number {open_one.number}: go on with that ticket.",
            field="wheel_pair",
        )
    last = today.aggregate(last=Max("number"))["last"]
    ticket = store(
        JobTicket(
            id=key or uuid.uuid4(),
            vendor=vendor,
            wheel_pair=wheel_pair,
            number=(last or 0) + 1,
            opened_on=opened_on,
            opened_at=opened_at,
            promised_at=promised_at,
            wish=wish,
        )
    )
    note_made(ticket, by=by, **_owners(ticket))
    put_wishes(by=by, at=at, ticket=ticket, wishes=wishes)
    return ticket


@transaction.atomic
def correct_ticket(
    *,
    by: Actor,
    at: datetime,
    ticket: JobTicket,
    wishes: Sequence[Wished] | None = None,
    **given: Unpack[TicketData],
) -> JobTicket:
    """Mend what is wished and when it is wanted; ``wishes`` are all there are: a wheel not named is left as it is."""
    require(by, Right.FIT, ticket.vendor)
    _check_promise(given.get("promised_at"), ticket.opened_at)
    if given or wishes is None:
        correct(ticket, given, by=by, **_owners(ticket))
    if wishes is not None:
        put_wishes(by=by, at=at, ticket=ticket, wishes=wishes)
    return ticket


@once
@transaction.atomic
def advance_ticket(*, by: Actor, ticket: JobTicket, state: str, key: uuid.UUID | None = None) -> JobTicket:
    """Move a ticket to another state, unless somebody else moved it since it was read.

    Sent again under its key it changes nothing, wherever the ticket went since.
    """
    require(by, Right.FIT, ticket.vendor)
    if state not in JobTicket.State.values:
        raise Invalid(
            f"{state!r} is no state of a ticket: use one of {', '.join(JobTicket.State.values)}.",
            field="state",
        )
    if noted(ticket, What.MOVED, key, {"state": state}):
        ticket.refresh_from_db(fields=["state"])
        return ticket
    moved = JobTicket.objects.filter(pk=ticket.pk, state=ticket.state).update(state=state)
    if not moved:
        raise TicketMoved("Somebody else moved this ticket in the meantime: look at it again first.")
    if state != ticket.state:
        before, after = {"state": str(ticket.state)}, {"state": state}
        note(ticket, What.MOVED, by=by, before=before, after=after, key=key, **_owners(ticket))
    ticket.state = JobTicket.State(state)
    return ticket


def _check_opening(vendor: Organisation, opened_on: date, opened_at: datetime, at: datetime) -> None:
    if not vendor.is_vendor:
        raise Invalid(
            "Wheels are taken in by a vendor; this organisation is an organiser only.", field="vendor"
        )
    check_past("opened_at", opened_at, at=at)
    if abs(opened_on - opened_at.date()) > timedelta(days=1):
        raise Invalid(
            "A ticket is opened on the day the wheels come in: give today's date.", field="opened_on"
        )


def _check_promise(promised_at: datetime | None, opened_at: datetime) -> None:
    if promised_at is None:
        return
    if promised_at < opened_at:
        raise Invalid(
            "Wheels are promised for a time after they came in: check the promised time.", field="promised_at"
        )
    if promised_at > opened_at + LATEST_PROMISE:
        raise Invalid(
            f"Wheels are promised within {LATEST_PROMISE.days} days after they came in: check the year.",
            field="promised_at",
        )


def _owners(ticket: JobTicket) -> Owners:
    return kept_by(ticket.vendor, rider=ticket.wheel_pair.bike.rider_id)
