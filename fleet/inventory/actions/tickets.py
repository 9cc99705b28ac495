"""Writes of job tickets."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import Max

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require
from fleet.garage.models import WheelPair
from fleet.inventory.errors import TicketMoved
from fleet.inventory.models import JobTicket
from fleet.records import store


@transaction.atomic
def take_wheels_in(
    *,
    by: Actor,
    at: datetime,
    vendor: Organisation,
    wheel_pair: WheelPair,
    opened_on: date,
    wish: str = "",
    promised_at: datetime | None = None,
) -> JobTicket:
    """Open a ticket with the next number of the vendor's day (``opened_on`` is the local date)."""
    require(by, Right.FIT, vendor)
    Organisation.objects.select_for_update(no_key=True).get(pk=vendor.pk)
    last = JobTicket.objects.filter(vendor=vendor, opened_on=opened_on).aggregate(last=Max("number"))["last"]
    return store(
        JobTicket(
            vendor=vendor,
            wheel_pair=wheel_pair,
            number=(last or 0) + 1,
            opened_on=opened_on,
            opened_at=at,
            promised_at=promised_at,
            wish=wish,
        )
    )


def advance_ticket(*, by: Actor, ticket: JobTicket, state: str) -> JobTicket:
    """Move a ticket to another state, unless somebody else moved it since it was read."""
    require(by, Right.FIT, ticket.vendor)
    moved = JobTicket.objects.filter(pk=ticket.pk, state=ticket.state).update(state=JobTicket.State(state))
    if not moved:
        raise TicketMoved("Somebody else moved this ticket in the meantime: look at it again first.")
    ticket.state = JobTicket.State(state)
    return ticket
