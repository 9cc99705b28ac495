"""A tire's page: its state and its story from the first fitting on."""

import uuid
from typing import Final

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.errors import NotFound
from fleet.inventory.models import Fitting, Hold, Removal, Tire
from fleet.inventory.ownership import given_by, held_since
from fleet.inventory.recalls import recalls_of
from fleet.life.forecasts import forecast_of
from fleet.life.queries import inspections_for, newest_assessments, tires_to_label, tires_told_whole
from fleet.pages.asking import person_of
from fleet.pages.charts import top_for
from fleet.pages.garage import rider_of
from fleet.pages.tire_given import tire_given
from fleet.pages.tire_rows import stints_on, tread_told, with_pressures
from fleet.pages.tire_story import story
from fleet.running.actions import correct_cycle, void_cycle_correction
from fleet.running.models import CycleCorrection, Stint
from fleet.running.queries import treads_for

LATEST: Final = 12


@require_safe
def tire(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show one tire whose whole life somebody may read."""
    by = person_of(request)
    at = timezone.now()
    row = tires_told_whole(by, on=at.date()).filter(pk=pk).first()
    if row is None:
        given = given_by(by).filter(tire=pk).first()
        if given is None:
            raise NotFound("There is no such tire for you: choose one from your own page.")
        return tire_given(request, by, given, at)
    fittings = list(
        Fitting.objects.filter(tire=row, voided_at__isnull=True)
        .select_related("wheel_pair__bike", "vendor")
        .prefetch_related(
            Prefetch("removals", queryset=Removal.objects.standing(), to_attr="standing_removals")
        )
        .order_by("fitted_at")
    )
    since = held_since(row)
    stints = stints_on(by, fittings)
    history, forecast = forecast_of(row, at=at)
    shown = len(stints) + 1 if "all" in request.GET else LATEST
    readings = list(treads_for(by).filter(tire=row, voided_at__isnull=True).order_by("taken_at", "zone"))
    assessment = newest_assessments(by, on=at.date()).filter(tire=row).first()
    context = {
        "place": "garage" if row.owner.person_id == by.pk else "",
        "tire": row,
        "may_label": tires_to_label(by, on=at.date()).filter(pk=row.pk).exists(),
        "today": at.date(),
        "a": assessment,
        "top": top_for(assessment.remaining_days_90) if assessment else 0,
        "since": since,
        "is_spare": all(one.removed_at for one in fittings),
        "fittings": fittings,
        "recalls": recalls_of([row.pk]).get(row.pk, []),
        "holds": list(Hold.objects.filter(tire=row, voided_at__isnull=True).order_by("placed_at")),
        "inspections": list(inspections_for(by, on=at.date()).filter(tire=row)[:LATEST]),
        "stints": with_pressures(by, row, stints[-shown:], at),
        "earlier": max(len(stints) - shown, 0),
        "readings": readings,
        **tread_told(by, row, readings, [(run.ended_at, run.distance_km) for run in history.runs]),
        **story(by, history, forecast, stints[-shown:], since),
    }
    return render(request, "pages/tire.html", context)


@require_POST
def correct(request: HttpRequest, pk: uuid.UUID, stint: uuid.UUID) -> HttpResponse:
    """Note that a stint did not warm a tire of the rider's own through, or take that back."""
    by = person_of(request)
    rider = rider_of(by)
    row = Tire.objects.filter(pk=pk, owner=rider).select_related("owner").first()
    ridden = Stint.objects.standing().filter(pk=stint, wheel_pair__bike__rider=rider).first()
    if row is None or ridden is None:
        raise NotFound("There is no such stint of a tire of yours: choose one on the tire's page.")
    at = timezone.now()
    said = CycleCorrection.objects.standing().filter(tire=row, stint=ridden).first()
    if request.POST.get("was") == "one":
        if said is not None:
            void_cycle_correction(by=by, at=at, correction=said, reason="taken back on the tire's page")
    elif said is None:
        correct_cycle(by=by, at=at, tire=row, stint=ridden)
    messages.success(request, "Noted: what is left of this tire is computed anew within seconds.")
    return redirect("tire", row.pk)
