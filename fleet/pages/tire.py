"""A tire's page: its state and its story from the first fitting on."""

import uuid
from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from typing import Any, Final

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.errors import NotFound
from fleet.inventory.models import Fitting, Hold, Removal, Tire
from fleet.inventory.recalls import recalls_of
from fleet.life.queries import inspections_for, newest_assessments, tires_to_label, tires_told_whole
from fleet.pages.asking import person_of
from fleet.pages.charts import Series, top_for
from fleet.pages.garage import rider_of
from fleet.pages.tire_story import story
from fleet.pages.units import depth_unit, distance_unit
from fleet.running.actions import correct_cycle, void_cycle_correction
from fleet.running.models import CycleCorrection, Stint, TreadReading, Zone
from fleet.running.queries import pressures_for, stints_for, treads_for

LATEST: Final = 12


@require_safe
def tire(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show one tire whose whole life somebody may read."""
    by = person_of(request)
    at = timezone.now()
    row = tires_told_whole(by, on=at.date()).filter(pk=pk).first()
    if row is None:
        raise NotFound("There is no such tire for you: choose one from your own page.")
    fittings = list(
        Fitting.objects.filter(tire=row, voided_at__isnull=True)
        .select_related("wheel_pair__bike", "vendor")
        .prefetch_related(
            Prefetch("removals", queryset=Removal.objects.standing(), to_attr="standing_removals")
        )
        .order_by("fitted_at")
    )
    stints = _stints(by, fittings)
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
        "fittings": fittings,
        "recalls": recalls_of([row.pk]).get(row.pk, []),
        "holds": list(Hold.objects.filter(tire=row, voided_at__isnull=True).order_by("placed_at")),
        "inspections": list(inspections_for(by, on=at.date()).filter(tire=row)[:LATEST]),
        "stints": _with_pressures(by, row, stints[-shown:], at),
        "earlier": max(len(stints) - shown, 0),
        "readings": readings,
        **_tread(by, row, readings, stints),
        **story(by, row, stints[-shown:], at),
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


def _stints(by: Person, fittings: list[Fitting]) -> list[Stint]:
    rows = stints_for(by).filter(
        wheel_pair__in={one.wheel_pair_id for one in fittings}, voided_at__isnull=True
    )
    return [
        stint
        for stint in rows.order_by("started_at")
        if any(
            one.wheel_pair_id == stint.wheel_pair_id
            and one.fitted_at <= stint.started_at
            and (one.removed_at is None or stint.ended_at <= one.removed_at)
            for one in fittings
        )
    ]


def _with_pressures(by: Person, row: Tire, stints: list[Stint], at: datetime) -> list[dict[str, Any]]:
    read: dict[Any, dict[str, Any]] = defaultdict(dict)
    for reading in pressures_for(by, on=at.date()).filter(tire=row, stint__in=stints, voided_at__isnull=True):
        read[reading.stint_id]["cold" if reading.moment == "set" else "hot"] = reading
    return [{"stint": stint, **read[stint.pk]} for stint in reversed(stints)]


def _run_before(stints: list[Stint]) -> Callable[[datetime], float]:
    ends = [(stint.ended_at, stint.distance_km) for stint in stints]
    return lambda moment: sum(km for ended_at, km in ends if ended_at <= moment)


def _tread(by: Person, row: Tire, readings: list[TreadReading], stints: list[Stint]) -> dict[str, Any]:
    run_km, depth, distance = _run_before(stints), depth_unit(by), distance_unit(by)
    points: dict[str, list[tuple[float, float]]] = {}
    rows: list[dict[str, Any]] = []
    for reading in readings:
        km = run_km(reading.taken_at)
        if not rows or rows[-1]["km"] != km or reading.zone in rows[-1]["by_zone"]:
            rows.append({"taken_at": reading.taken_at, "km": km, "by_zone": {}})
        rows[-1]["by_zone"][reading.zone] = reading
        if not reading.doubt:
            points.setdefault(reading.zone, []).append((distance.shown(km), depth.shown(reading.depth_mm)))
    zones = [zone for zone in Zone.values if zone in {reading.zone for reading in readings}]
    return {
        "zones": [(Zone(zone).label, place) for place, zone in enumerate(zones)],
        "series": [Series(zone, points.get(zone, [])) for zone in zones],
        "tread_rows": [line | {"cells": [line["by_zone"].get(zone) for zone in zones]} for line in rows],
        "limit": depth.shown(row.spec.wear_limit_mm),
        "new": depth.shown(row.spec.new_depth_mm),
        "depth_sign": depth.sign,
        "distance_sign": distance.sign,
    }
