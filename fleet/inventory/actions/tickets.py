"""Writes of job tickets."""

from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Max

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require
from fleet.errors import Invalid
from fleet.garage.models import WheelPair
from fleet.inventory.actions.access import require_serving_crew
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
    require_serving_crew(by, wheel_pair.bike.rider, vendor)
    if not vendor.is_vendor:
        raise Invalid(
            "Wheels are taken in by a vendor; this organisation is an organiser only.", field="vendor"
        )
    if abs(opened_on - at.date()) > timedelta(days=1):
        raise Invalid(
            "A ticket is opened on the day the wheels come in: give today's date.", field="opened_on"
        )
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
    if state not in JobTicket.State.values:
        raise Invalid(
            f"{state!r} is no state of a ticket: use one of {', '.join(JobTicket.State.values)}.",
            field="state",
        )
    moved = JobTicket.objects.filter(pk=ticket.pk, state=ticket.state).update(state=state)
    if not moved:
        raise TicketMoved("Somebody else moved this ticket in the meantime: look at it again first.")
    ticket.state = JobTicket.State(state)
    return ticket
