"""Reads of stints, readings and notes, narrowed to what the asker may see."""

from datetime import date, datetime

from django.db.models import Q, QuerySet

from fleet.accounts.policy import SHARED_AFTER_EVENT, Actor, Right, Service, organisations
from fleet.garage.models import Sharing, WheelPair
from fleet.inventory.models import Fitting, Tire
from fleet.inventory.queries import fitted_at, riders_served
from fleet.running.models import PressureReading, Stint, TreadReading


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
        Q(tire__owner__person=by)
        | Q(stint__in=stints_for(by).values("pk"))
        | Q(
            stint__day__event__organiser__in=organisations(by, Right.READ_ENTRANT_PRESSURES),
            stint__day__date__gte=on - SHARED_AFTER_EVENT,
        )
        | Q(stint__isnull=True, recorded_by__isnull=False, recorded_by=by)
    )


def treads_for(by: Actor) -> QuerySet[TreadReading]:
    """Return the tread readings somebody may see: their own tires', and those of riders their vendor serves."""
    rows = TreadReading.objects.select_related("tire", "instrument").order_by("-taken_at", "zone", "id")
    if isinstance(by, Service):
        return rows
    return rows.filter(Q(tire__owner__person=by) | Q(tire__owner__in=riders_served(by).values("pk")))


def set_during(wheel_pair: WheelPair, *, started_at: datetime, ended_at: datetime) -> dict[str, Fitting]:
    """Return the fittings by axle that were on a wheel pair the whole time of a stint."""
    return {
        fitting.axle: fitting
        for fitting in fitted_at([wheel_pair.pk], started_at)
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
