"""Reads of stock, tires, fittings and holds, narrowed to what the asker may see."""

import uuid
from datetime import datetime

from django.db.models import Q, QuerySet, Sum

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, organisations
from fleet.garage.models import Rider, Sharing, WheelPair
from fleet.inventory.models import Fitting, Hold, JobTicket, Lot, StockMovement, Tire


def serves(vendor: Organisation, rider: Rider) -> bool:
    """Return whether a vendor has this rider as a customer: registered or sharing there, a ticket, or a fitting."""
    return served_by(Organisation.objects.filter(pk=vendor.pk)).filter(pk=rider.pk).exists()


def served_by(vendors: QuerySet[Organisation]) -> QuerySet[Rider]:
    """Return the customers of some vendors."""
    return Rider.objects.filter(
        Q(registered_with__in=vendors)
        | Q(pk__in=Sharing.objects.filter(organisation__in=vendors, withdrawn_at=None).values("rider"))
        | Q(pk__in=JobTicket.objects.filter(vendor__in=vendors).values("wheel_pair__bike__rider"))
        | Q(pk__in=Fitting.objects.filter(vendor__in=vendors).values("wheel_pair__bike__rider"))
    )


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


def left_at(lot: Lot, place: str) -> int:
    """Return how many tires of a lot are at a place."""
    total = lot.movements.filter(place=place, voided_at__isnull=True).aggregate(left=Sum("quantity"))
    return total["left"] or 0


def tickets_for(by: Actor) -> QuerySet[JobTicket]:
    """Return the job tickets of somebody's vendors, the promised ones first."""
    return (
        JobTicket.objects.filter(vendor__in=organisations(by, Right.FIT))
        .select_related("wheel_pair__bike__rider", "vendor")
        .order_by("opened_on", "promised_at", "number", "id")
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
    """Return whether a standing hold on a tire was not lifted."""
    return Hold.objects.filter(tire=tire, lifted_at__isnull=True, voided_at__isnull=True).exists()
