"""What can still be sold: what a vendor has of a spec, less what it keeps for riders.

Lots a recall touches are not sold, so they do not count. What is kept counts from the moment it is asked for.
"""

from datetime import date, datetime
from typing import Any, Final

from django.db.models import (
    Case,
    Exists,
    ExpressionWrapper,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.fields import CharField
from django.db.models.functions import Coalesce, Greatest

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, organisations
from fleet.catalogue.models import TireSpec
from fleet.garage.models import Rider
from fleet.inventory.models import Listing, Lot, Place, StockMovement
from fleet.inventory.recalls import is_lot_recalled
from fleet.inventory.reservation import Reservation

State = Reservation.State
NONE_TAKEN: Final = Value(0)
OPEN: Final = Q(ended_at__isnull=True) & Q(taken__lt=F("quantity"))


def reservations() -> QuerySet[Reservation]:
    """Return all reservations with how many tires of each were taken, how many are left, and how far it has come."""
    lines = StockMovement.objects.filter(reservation=OuterRef("pk"), voided_at__isnull=True).order_by()
    taken = lines.values("reservation").annotate(taken=-Sum("quantity")).values("taken")
    rows: QuerySet[Reservation] = Reservation.objects.filter(voided_at__isnull=True)
    columns: dict[str, Any] = {
        "taken": Coalesce(Subquery(taken), NONE_TAKEN, output_field=IntegerField()),
        "state": Case(
            When(ended_at__isnull=False, then=F("ended_as")),
            When(taken__gte=F("quantity"), then=Value(State.TAKEN)),
            When(ready_at__isnull=False, then=Value(State.READY)),
            When(kept_at__isnull=False, then=Value(State.KEPT)),
            default=Value(State.ASKED),
            output_field=CharField(),
        ),
    }
    return rows.annotate(**columns)


def open_reservations() -> QuerySet[Reservation]:
    """Return the reservations of which tires are still to be handed over, the day that comes first on top."""
    return (
        reservations()
        .filter(OPEN)
        .select_related("rider__person", "vendor", "spec__line")
        .order_by("wanted_on", "rider__name", "recorded_at", "id")
    )


def reservations_for(by: Actor) -> QuerySet[Reservation]:
    """Return the reservations somebody may see: a rider's own, and those at a trailer they work at."""
    rows = (
        reservations()
        .select_related("rider__person", "vendor", "spec__line")
        .order_by("-wanted_on", "-recorded_at", "id")
    )
    if isinstance(by, Service):
        return rows
    return rows.filter(Q(rider__person=by) | Q(vendor__in=organisations(by, Right.FIT)))


def due(at: datetime) -> QuerySet[Reservation]:
    """Return the open reservations nobody came for: their day is over everywhere, and half a day more."""
    # The last place on earth ends a day twelve hours after UTC does.
    return open_reservations().filter(wanted_on__lt=last_day_kept(at))


def last_day_kept(at: datetime) -> date:
    """Return the first day of which reservations are still kept at a moment."""
    return date.fromordinal(at.date().toordinal() - 1)


def counted(*, made_by: datetime | None = None) -> QuerySet[Listing]:
    """Return what is listed with ``in_store``, ``on_trailer``, ``reserved``, ``set_aside``, ``stopped`` and ``free``.

    ``stopped`` is what lies there of recalled lots, which the others leave out; ``free`` is below zero where more is
    kept than there is. With ``made_by`` only the reservations made up to that moment count.
    """
    lines = StockMovement.objects.filter(
        lot__vendor=OuterRef("vendor"), lot__spec=OuterRef("spec"), voided_at__isnull=True
    )
    stopped = Exists(
        Lot.objects.annotate(is_recalled=is_lot_recalled()).filter(pk=OuterRef("lot"), is_recalled=True)
    )
    sold = lines.exclude(stopped)
    kept = open_reservations().filter(vendor=OuterRef("vendor"), spec=OuterRef("spec"))
    if made_by is not None:
        kept = kept.filter(recorded_at__lte=made_by)
    return (
        Listing.objects.annotate(
            in_store=_sum(sold.filter(place=Place.STORE), "quantity", "lot__vendor"),
            on_trailer=_sum(sold.filter(place=Place.TRAILER), "quantity", "lot__vendor"),
            stopped=_sum(lines.filter(stopped), "quantity", "lot__vendor"),
            reserved=_left(kept),
            set_aside=_left(kept.filter(ready_at__isnull=False)),
        )
        .annotate(free=F("in_store") + F("on_trailer") - F("reserved"))
        .select_related("spec__line", "vendor")
        .order_by("vendor__name", "spec__code", "id")
    )


def offers() -> QuerySet[Listing]:
    """Return what every vendor sells, for whoever rides: the callers tell price and whether there are enough, no counts."""
    return counted().order_by("vendor__name", "spec__axle", "spec__code", "id")


def open_of(rider: Rider, vendor: Organisation, spec: TireSpec) -> QuerySet[Reservation]:
    """Return a rider's open reservations of one spec at a vendor, the one wanted first on top."""
    return open_reservations().filter(rider=rider, vendor=vendor, spec=spec)


def _sum(rows: QuerySet[Any], name: str, by: str) -> Any:
    total = rows.order_by().values(by).annotate(total=Sum(name)).values("total")
    return Coalesce(Subquery(total), NONE_TAKEN, output_field=IntegerField())


def _left(kept: QuerySet[Reservation]) -> Any:
    left = ExpressionWrapper(Greatest(F("quantity") - F("taken"), NONE_TAKEN), output_field=IntegerField())
    return _sum(kept.select_related(None).annotate(still=left), "still", "vendor")
