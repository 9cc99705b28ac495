"""Reads of stock, tires, fittings and holds, narrowed to what the asker may see."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db.models import F, Prefetch, Q, QuerySet, Sum

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, organisations
from fleet.garage.models import Instrument, Rider, Sharing, WheelPair
from fleet.inventory.labels import ids_marked
from fleet.inventory.models import (
    Fitting,
    Hold,
    JobTicket,
    Listing,
    Lot,
    Removal,
    StockMovement,
    TicketWish,
    Tire,
)
from fleet.inventory.reservation import Reservation


def serves(vendor: Organisation, rider: Rider) -> bool:
    """Return whether a vendor has this rider as a customer: registered or sharing there, a ticket, a fitting, or tires reserved."""
    return served_by(Organisation.objects.filter(pk=vendor.pk)).filter(pk=rider.pk).exists()


def served_by(vendors: QuerySet[Organisation]) -> QuerySet[Rider]:
    """Return the customers of some vendors."""
    return Rider.objects.filter(
        Q(registered_with__in=vendors)
        | Q(pk__in=Sharing.objects.filter(organisation__in=vendors, withdrawn_at=None).values("rider"))
        | Q(pk__in=JobTicket.objects.filter(vendor__in=vendors).values("wheel_pair__bike__rider"))
        | Q(pk__in=Fitting.objects.filter(vendor__in=vendors).values("wheel_pair__bike__rider"))
        | Q(pk__in=reserved_at(vendors).values("rider"))
    )


def reserved_at(vendors: QuerySet[Organisation]) -> QuerySet[Reservation]:
    """Return the reservations at some vendors that did not end: waiting for their riders, or taken."""
    return Reservation.objects.filter(vendor__in=vendors, ended_at__isnull=True, voided_at__isnull=True)


def masters_for(rider: Rider) -> QuerySet[Instrument]:
    """Return the pressure gauges a rider may compare with: those of the vendors that have the rider as a customer."""
    vendors = Organisation.objects.filter(
        Q(pk=rider.registered_with_id)
        | Q(pk__in=Sharing.objects.filter(rider=rider, withdrawn_at=None).values("organisation"))
        | Q(pk__in=JobTicket.objects.filter(wheel_pair__bike__rider=rider).values("vendor"))
        | Q(pk__in=Fitting.objects.filter(wheel_pair__bike__rider=rider).values("vendor"))
    )
    gauges = Instrument.objects.filter(kind=Instrument.Kind.PRESSURE, organisation__in=vendors)
    return gauges.select_related("organisation").order_by("organisation__name", "name", "id")


def in_reach(organisation: Organisation, *, since: date) -> QuerySet[Rider]:
    """Return the riders whose tires an organisation may stop: a vendor's customers, an organiser's entrants since a day."""
    reached = Q(pk__in=[])
    if organisation.is_vendor:
        reached |= Q(pk__in=served_by(Organisation.objects.filter(pk=organisation.pk)).values("pk"))
    if organisation.is_organiser:
        # Entries belong to a subject above this one: the relation is followed by its name, nothing is imported.
        entered = Rider.objects.filter(
            entries__day__event__organiser=organisation, entries__day__date__gte=since
        )
        reached |= Q(pk__in=entered.values("pk"))
    return Rider.objects.filter(reached)


def riders_served(by: Actor) -> QuerySet[Rider]:
    """Return the riders somebody may see as a vendor's crew."""
    if isinstance(by, Service):
        return Rider.objects.all()
    return served_by(organisations(by, Right.READ_RIDERS))


def own_or_served(by: Actor) -> Q:
    """Return the condition on a rider (prefix-free) for a person's own record and those of a vendor's customers."""
    if isinstance(by, Service):
        return Q()
    return Q(person=by) | Q(pk__in=riders_served(by).values("pk"))


def lots_for(by: Actor) -> QuerySet[Lot]:
    """Return the lots somebody may see, with what is left as ``in_store`` and ``on_trailer``."""
    standing = Q(movements__voided_at__isnull=True)
    return (
        Lot.objects.filter(vendor__in=organisations(by, Right.READ_STOCK))
        .annotate(
            in_store=Sum("movements__quantity", filter=standing & Q(movements__place="store"), default=0),
            on_trailer=Sum("movements__quantity", filter=standing & Q(movements__place="trailer"), default=0),
        )
        .select_related("spec__line", "vendor")
        .order_by("made_on", "code", "id")
    )


def movements_for(by: Actor) -> QuerySet[StockMovement]:
    """Return the ledger lines somebody may see, the newest first."""
    return (
        StockMovement.objects.filter(lot__vendor__in=organisations(by, Right.READ_STOCK))
        .select_related("lot__spec__line", "recorded_by")
        .order_by("-moved_at", "id")
    )


def left_at(lot: Lot, place: str, *, until: datetime | None = None) -> int:
    """Return how many tires of a lot are at a place, or were at a moment, as far as it is written down now."""
    moved = lot.movements.filter(place=place, voided_at__isnull=True)
    if until is not None:
        moved = moved.filter(moved_at__lte=until)
    return moved.aggregate(left=Sum("quantity"))["left"] or 0


def listings_for(by: Actor) -> QuerySet[Listing]:
    """Return what the vendors whose stock somebody may see ask for each spec."""
    return (
        Listing.objects.filter(vendor__in=organisations(by, Right.READ_STOCK))
        .select_related("spec__line", "vendor")
        .order_by("vendor__name", "spec__code", "id")
    )


def listed_price(lot: Lot) -> Decimal | None:
    """Return what the lot's vendor asks for one tire of it now; nothing where no price is set."""
    listing = Listing.objects.filter(vendor=lot.vendor_id, spec=lot.spec_id).first()
    return listing.price if listing else None


def tickets_for(by: Actor) -> QuerySet[JobTicket]:
    """Return the job tickets of somebody's vendors with what is wished, by promised time, those without one last."""
    return with_wishes(JobTicket.objects.filter(vendor__in=organisations(by, Right.FIT))).order_by(
        F("promised_at").asc(nulls_last=True), "opened_on", "number", "id"
    )


def open_tickets(by: Actor) -> QuerySet[JobTicket]:
    """Return the tickets of somebody's vendors whose wheels are still here."""
    return tickets_for(by).exclude(state=JobTicket.State.COLLECTED)


def own_open_tickets(rider: Rider) -> QuerySet[JobTicket]:
    """Return the tickets of a rider's own wheels that are with a vendor now."""
    here = JobTicket.objects.filter(wheel_pair__bike__rider=rider).exclude(state=JobTicket.State.COLLECTED)
    return with_wishes(here).order_by("opened_at", "id")


def spare_tires(rider: Rider) -> QuerySet[Tire]:
    """Return a rider's tires that are on no wheel and were not scrapped."""
    on_wheels = Fitting.objects.filter(removed_at__isnull=True, voided_at__isnull=True).values("tire")
    scrapped = Removal.objects.filter(destination=Removal.Destination.SCRAPPED, voided_at__isnull=True)
    return (
        Tire.objects.filter(owner=rider)
        .exclude(pk__in=on_wheels)
        .exclude(pk__in=scrapped.values("fitting__tire"))
        .select_related("spec__line")
        .order_by("label_code")
    )


def with_wishes(tickets: QuerySet[JobTicket]) -> QuerySet[JobTicket]:
    """Return tickets with their rider and with what is wished for each wheel, in two queries."""
    wishes = TicketWish.objects.select_related("spec__line", "own_tire__spec__line").order_by("axle")
    return tickets.select_related("wheel_pair__bike__rider", "vendor").prefetch_related(
        Prefetch("wishes", queryset=wishes)
    )


def fittings_for(by: Actor) -> QuerySet[Fitting]:
    """Return the fittings somebody may see: their own and those a vendor of theirs made."""
    rows = Fitting.objects.select_related(
        "tire__spec__line", "wheel_pair__bike__rider", "vendor", "recorded_by"
    ).order_by("-fitted_at", "id")
    if isinstance(by, Service):
        return rows
    return rows.filter(
        Q(wheel_pair__bike__rider__person=by) | Q(wheel_pair__bike__rider__in=riders_served(by).values("pk"))
    )


def fitted_now(wheel_pair: WheelPair) -> QuerySet[Fitting]:
    """Return the set: the standing fittings of a wheel pair that have not ended."""
    return Fitting.objects.filter(
        wheel_pair=wheel_pair, removed_at__isnull=True, voided_at__isnull=True
    ).select_related("tire__spec__line")


def fitted_at(wheel_pairs: list[uuid.UUID], moment: datetime) -> QuerySet[Fitting]:
    """Return the standing fittings of some wheel pairs at a moment, also in the past."""
    return Fitting.objects.filter(
        Q(removed_at__isnull=True) | Q(removed_at__gt=moment),
        wheel_pair__in=wheel_pairs,
        fitted_at__lte=moment,
        voided_at__isnull=True,
    ).select_related("tire__spec__line")


def is_on_hold(tire: Tire) -> bool:
    """Return whether a standing hold on a tire was not lifted; what a recall says of it, ``recalls`` knows."""
    return Hold.objects.filter(tire=tire, lifted_at__isnull=True, voided_at__isnull=True).exists()


def tire_marked(mark: str) -> Tire | None:
    """Return the tire whose label carries a mark, whoever asks: what is told of it is decided by who that is."""
    span = ids_marked(mark)
    if span is None:
        return None
    found = list(Tire.objects.filter(pk__range=span).select_related("owner")[:2])
    return found[0] if len(found) == 1 else None


def last_fitted_by(tire: Tire) -> Organisation | None:
    """Return the vendor that fitted a tire last, or nothing where none did."""
    fitting = (
        Fitting.objects.filter(tire=tire, vendor__isnull=False, voided_at__isnull=True)
        .select_related("vendor")
        .order_by("-fitted_at")
        .first()
    )
    return fitting.vendor if fitting else None
