"""What stays of a tire with whoever gave it away: their own stints on it, and nothing of what came after."""

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.accounts.models import Person
from fleet.inventory.handover import Handover
from fleet.inventory.models import Fitting
from fleet.pages.tire_rows import stints_on, tread_told, with_pressures
from fleet.running.queries import treads_for


def tire_given(request: HttpRequest, by: Person, handover: Handover, at: datetime) -> HttpResponse:
    """Show what a rider logged on a tire until it was handed over."""
    row = handover.tire
    fittings = list(
        Fitting.objects.filter(tire=row, wheel_pair__bike__rider=handover.giver, voided_at__isnull=True)
        .select_related("wheel_pair__bike", "vendor")
        .order_by("fitted_at")
    )
    stints = stints_on(by, fittings)
    readings = list(
        treads_for(by)
        .filter(tire=row, voided_at__isnull=True, taken_at__lt=handover.handed_at)
        .order_by("taken_at", "zone")
    )
    context = {
        "place": "garage",
        "tire": row,
        "handover": handover,
        "fittings": fittings,
        "stints": with_pressures(by, row, stints, at),
        **tread_told(by, row, readings, [(one.ended_at, one.distance_km) for one in stints]),
    }
    return render(request, "pages/tire_given.html", context)
