"""Reads of stints, readings and notes, narrowed to what the asker may see."""

from datetime import date, datetime
from statistics import median
from typing import Final

from django.db.models import Q, QuerySet

from fleet.accounts.models import Person
from fleet.accounts.policy import SHARED_AFTER_EVENT, Actor, Right, Service, author, organisations
from fleet.events.models import Layout
from fleet.garage.models import Rider, Sharing, WheelPair
from fleet.garage.queries import riders_opened
from fleet.inventory.models import Fitting, Tire
from fleet.inventory.ownership import once_theirs, records_of, theirs_then
from fleet.inventory.queries import fitted_at, own_or_served, riders_served
from fleet.running.models import (
    Adjustment,
    ContourReading,
    PressureReading,
    ShapeReading,
    Stint,
    SurfaceNote,
    TreadReading,
)

LATELY: Final = 12


def usual_lap_s(rider: Rider, layout: Layout | None, *, besides: Stint | None = None) -> float | None:
    """Return how long a lap of a layout usually takes a rider, leaving and coming in counted, from the latest stints."""
    rows = Stint.objects.filter(
        wheel_pair__bike__rider=rider, layout=layout, laps__gte=2, voided_at__isnull=True
    ).order_by("-started_at", "id")
    if besides is not None:
        rows = rows.exclude(pk=besides.pk)
    times = [
        (ended_at - started_at).total_seconds() / laps
        for started_at, ended_at, laps in rows.values_list("started_at", "ended_at", "laps")[:LATELY]
    ]
    return median(times) if layout is not None and times else None


def stints_for(by: Actor) -> QuerySet[Stint]:
    """Return the stints somebody may see: their own, and those a rider shares with an organisation they test for."""
    rows = Stint.objects.select_related("wheel_pair__bike__rider", "layout__track", "day").order_by(
        "-started_at", "id"
    )
    if isinstance(by, Service):
        return rows
    shared = Sharing.objects.filter(
        organisation__in=organisations(by, Right.READ_SHARED_STINTS),
        scope=Sharing.Scope.STINTS,
        withdrawn_at__isnull=True,
    )
    return rows.filter(
        Q(wheel_pair__bike__rider__person=by) | Q(wheel_pair__bike__rider__in=shared.values("rider"))
    )


def pressures_for(by: Actor, *, on: date) -> QuerySet[PressureReading]:
    """Return the pressure readings somebody may see: their own, shared ones, and entrants' on the organiser's days.

    What an entry shares ends 30 days after the day.
    """
    rows = PressureReading.objects.select_related("tire", "instrument", "stint").order_by("-taken_at", "id")
    if isinstance(by, Service):
        return rows
    return rows.filter(
        theirs_then(records_of(by), "taken_at")
        | Q(stint__in=stints_for(by).values("pk"))
        | Q(
            stint__day__event__organiser__in=organisations(by, Right.READ_ENTRANT_PRESSURES),
            stint__day__date__gte=on - SHARED_AFTER_EVENT,
        )
        | (taken_by(by) & Q(stint__isnull=True))
    )


def treads_for(by: Actor) -> QuerySet[TreadReading]:
    """Return the tread readings somebody may see: their own tires', and those of riders their vendor serves.

    What was read before a tire changed hands is told to whoever has it now, and stays with whoever had it then.
    """
    rows = TreadReading.objects.select_related("tire", "instrument").order_by("-taken_at", "zone", "id")
    if isinstance(by, Service):
        return rows
    riders = Rider.objects.filter(own_or_served(by))
    return rows.filter(Q(tire__owner__in=riders.values("pk")) | once_theirs(riders, "taken_at"))


def shapes_for(by: Actor) -> QuerySet[ShapeReading]:
    """Return the roll-outs, gaps and ride heights of somebody's own tires, of those opened to them, and those they took."""
    rows = ShapeReading.objects.select_related("tire", "instrument").order_by("-taken_at", "quantity", "id")
    return rows if isinstance(by, Service) else rows.filter(_measured_for(by))


def contours_for(by: Actor) -> QuerySet[ContourReading]:
    """Return the outlines of somebody's own tires, of those opened to them, and those they took."""
    rows = ContourReading.objects.select_related("tire", "instrument").order_by("-taken_at", "id")
    return rows if isinstance(by, Service) else rows.filter(_measured_for(by))


def surface_notes_for(by: Actor) -> QuerySet[SurfaceNote]:
    """Return what was seen on the treads of somebody's own tires, of their vendor's customers', and of those opened to them."""
    rows = SurfaceNote.objects.select_related("tire").order_by("-seen_at", "id")
    if isinstance(by, Service):
        return rows
    riders = Rider.objects.filter(own_or_served(by) | Q(pk__in=riders_opened(by).values("pk")))
    return rows.filter(theirs_then(riders, "seen_at"))


def _measured_for(by: Person) -> Q:
    riders = Rider.objects.filter(Q(person=by) | Q(pk__in=riders_opened(by).values("pk")))
    return theirs_then(riders, "taken_at") | taken_by(by)


def taken_by(by: Actor) -> Q:
    """Return the condition on readings somebody took, as long as they still have to do with the rider.

    They work at a trailer that serves the rider, or test for an organisation the rider shares with.
    """
    known = Q(tire__owner__in=riders_served(by).values("pk"))
    if isinstance(by, Person):
        known |= Q(tire__owner__in=riders_opened(by).values("pk"))
    return Q(recorded_by=author(by)) & known


def adjustments_for(by: Actor) -> QuerySet[Adjustment]:
    """Return the adjustments of somebody's own bikes; no sharing opens them."""
    rows = Adjustment.objects.select_related("wheel_pair__bike__rider").order_by("-made_at", "id")
    return rows if isinstance(by, Service) else rows.filter(wheel_pair__bike__rider__person=by)


def set_during(wheel_pair: WheelPair, *, started_at: datetime, ended_at: datetime) -> dict[str, Fitting]:
    """Return the fittings by axle that were on a wheel pair the whole time of a stint."""
    return _throughout(fitted_at([wheel_pair.pk], started_at), ended_at)


def held_during(wheel_pair: WheelPair, *, started_at: datetime, ended_at: datetime) -> dict[str, Fitting]:
    """Return the same, and let nobody end or void them before this transaction is done."""
    held = fitted_at([wheel_pair.pk], started_at).select_for_update(of=("self",), no_key=True)
    return _throughout(held, ended_at)


def _throughout(fittings: QuerySet[Fitting], ended_at: datetime) -> dict[str, Fitting]:
    return {
        fitting.axle: fitting
        for fitting in fittings
        if fitting.removed_at is None or fitting.removed_at >= ended_at
    }


def tires_of(stint: Stint) -> dict[str, Tire]:
    """Return the tires by axle that ran a stint."""
    fitted = set_during(stint.wheel_pair, started_at=stint.started_at, ended_at=stint.ended_at)
    return {axle: fitting.tire for axle, fitting in fitted.items()}


def ran(tire: Tire, stint: Stint) -> bool:
    """Return whether a tire ran a stint; cheaper than looking at both of its tires."""
    fitted = Fitting.objects.filter(
        tire=tire,
        wheel_pair=stint.wheel_pair_id,
        fitted_at__lte=stint.started_at,
        voided_at__isnull=True,
    )
    return fitted.filter(Q(removed_at__isnull=True) | Q(removed_at__gte=stint.ended_at)).exists()
