"""Reads of who can see a rider's data, and why: the same facts that open it, told to its owner."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import BooleanField, ExpressionWrapper, Max, Q

from fleet.accounts.models import Organisation
from fleet.accounts.policy import SHARED_AFTER_EVENT
from fleet.events.models import Entry
from fleet.garage.models import Rider, Sharing
from fleet.garage.queries import sharings_of
from fleet.inventory.models import Fitting, JobTicket
from fleet.inventory.reservation import Reservation


@dataclass(frozen=True)
class Seer:
    """One organisation whose people see something of a rider's: what, why, and until when (nothing: no end).

    ``sharing`` is the rider's own permission, which they can take back.
    """

    organisation: Organisation
    what: str
    why: str
    until: date | None = None
    sharing: Sharing | None = None


def seers_of(rider: Rider, *, on: date) -> list[Seer]:
    """Return who can see something of a rider's on a day, in three queries."""
    return [*_let_in(rider), *_served(rider), *_entered(rider, on)]


SERVED: Final = "your name, bikes, tires and their life, for its crew"
ENTERED: Final = (
    "your name and number, the state, binding limit and holds of your tires, and your pressures; its inspectors also how old "
    "and how used they are"
)
REGISTERED: Final = (
    "what its crew wrote down of you before you had an account; it may enter you in its events"
)


def _let_in(rider: Rider) -> list[Seer]:
    found = []
    for sharing in sharings_of(rider):
        what = "stints, readings and notes, for its testers"
        if sharing.organisation.is_vendor:
            what += "; your name, bikes, tires and their life, for its crew"
        why = f"you allowed it on {sharing.granted_at:%d %b %Y}"
        found.append(Seer(sharing.organisation, what, why, sharing=sharing))
    return found


def _served(rider: Rider) -> list[Seer]:
    """Return the vendors that serve a rider, as ``inventory.queries.served_by`` has it, apart from permissions."""
    tickets = JobTicket.objects.filter(wheel_pair__bike__rider=rider).values("vendor")
    fittings = Fitting.objects.filter(wheel_pair__bike__rider=rider).values("vendor")
    reserved = Reservation.objects.filter(rider=rider, ended_at__isnull=True, voided_at__isnull=True)
    worked = Q(pk__in=tickets) | Q(pk__in=fittings)
    vendors = (
        Organisation.objects.filter(
            Q(pk=rider.registered_with_id) | worked | Q(pk__in=reserved.values("vendor"))
        )
        .annotate(has_worked=ExpressionWrapper(worked, output_field=BooleanField()))
        .order_by("name")
    )
    return [
        Seer(vendor, SERVED if vendor.is_vendor else REGISTERED, _why_served(vendor, rider))
        for vendor in vendors
    ]


def _why_served(vendor: Organisation, rider: Rider) -> str:
    if vendor.pk == rider.registered_with_id:
        return "you are registered there"
    if getattr(vendor, "has_worked", False):
        return "it took your wheels in or fitted your tires"
    return "you reserved tires there; it ends when the reservation ends without being taken"


def _entered(rider: Rider, on: date) -> list[Seer]:
    entered = (
        Entry.objects.filter(rider=rider, day__date__gte=on - SHARED_AFTER_EVENT)
        .values("day__event__organiser")
        .annotate(last=Max("day__date"))
    )
    until = {row["day__event__organiser"]: row["last"] + SHARED_AFTER_EVENT for row in entered}
    return [
        Seer(
            organiser,
            ENTERED,
            "you entered an event of theirs; it ends 30 days after the last day",
            until=until[organiser.pk],
        )
        for organiser in Organisation.objects.filter(pk__in=until).order_by("name")
    ]
