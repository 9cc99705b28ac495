"""The garage's start page: each wheel pair in use, what to set now, and the life left in its two tires."""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.errors import Conflict, NotFound
from fleet.events.models import Entry
from fleet.events.queries import coming_entries
from fleet.garage.models import Instrument, Rider
from fleet.garage.queries import own_gauges, own_rider
from fleet.life.actions import acknowledge_flag
from fleet.life.models import Flag
from fleet.life.queries import MountedTire, SetView, open_flags, sets_of
from fleet.pages.asking import person_of, require_place
from fleet.pages.charts import top_for
from fleet.pages.units import day_of
from fleet.pressures.models import Bulletin, GuidanceLine
from fleet.pressures.queries import bulletin_in_force, own_lines

AXLES: Final = ("front", "rear")
CAUTIONS: Final = (
    "A start pressure is a starting point. The tire maker's published range and the bike's placard come first, and a "
    "qualified person decides. Check with your own gauge.",
    "New tires are slippery: scrub in, build up over the first laps.",
    "Track pressures are too low for the road: reset to the road pressure before riding home.",
    "Tread at or under the legal limit is not road legal; local law decides. Age and damage need an inspection by a "
    "professional, whatever the tread says.",
)


@dataclass(frozen=True)
class AxleView:
    """One end of a bike: its tire, and the start pressure as the rider's own gauge shows it.

    The line's own figure is on that gauge's scale already; its target and interval are true ones and are moved there.
    """

    axle: str
    mounted: MountedTire | None
    line: GuidanceLine | None
    shown_kpa: float | None = None
    target_kpa: float | None = None
    low_kpa: float | None = None
    high_kpa: float | None = None


@dataclass(frozen=True)
class PairView:
    """A wheel pair in use with its next day."""

    view: SetView
    entry: Entry | None
    bulletin: Bulletin | None
    axles: list[AxleView]

    @property
    def when(self) -> str:
        """Return the date of the next day, for behind a figure."""
        return f", {day_of(self.entry.day.date)}" if self.entry else ""

    @property
    def conditions(self) -> Any:
        """Return the weather the start pressures hold for."""
        return next((one.line.guidance.conditions for one in self.axles if one.line), None)


@require_safe
def garage(request: HttpRequest) -> HttpResponse:
    """Show a rider's wheel pairs in use."""
    by = person_of(request)
    rider = rider_of(by)
    at = timezone.now()
    gauge = own_gauge(rider)
    pairs = _pairs(rider, gauge, at)
    spans = [
        one.mounted.assessment.remaining_days_90
        for pair in pairs
        for one in pair.axles
        if one.mounted and one.mounted.assessment
    ]
    context = {
        "place": "garage",
        "rider": rider,
        "pairs": pairs,
        "gauge": gauge,
        "flags": list(own_flags(by, at).filter(acknowledged_at__isnull=True)),
        "top": top_for(max(spans, default=0.0)),
        "today": at.date(),
        "cautions": CAUTIONS,
    }
    return render(request, "pages/garage.html", context)


@require_POST
def seen(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Note that the rider has seen a flag."""
    by = person_of(request)
    require_place(by, "garage")
    at = timezone.now()
    flag = own_flags(by, at).filter(pk=pk).first()
    if flag is None:
        raise NotFound("There is no such open note about your tires: it may have been cleared.")
    try:
        acknowledge_flag(by=by, at=at, flag=flag)
    except Conflict:
        return redirect("garage")
    return redirect("garage")


def rider_of(by: Person) -> Rider:
    """Return the rider record of somebody who is at the garage."""
    require_place(by, "garage")
    rider = own_rider(by)
    if rider is None:
        raise NotFound("You have no rider record: ask your vendor to join it to this account.")
    return rider


def own_flags(by: Person, at: datetime) -> QuerySet[Flag]:
    """Return the open flags of somebody's own tires."""
    return open_flags(by, on=at.date()).filter(tire__owner__person=by)


def own_gauge(rider: Rider) -> Instrument | None:
    """Return the rider's pressure gauge."""
    return own_gauges([rider.pk]).get(rider.pk)


def _pairs(rider: Rider, gauge: Instrument | None, at: datetime) -> list[PairView]:
    entries = coming_entries([rider], at=at)
    lines: dict[Any, list[GuidanceLine]] = {}
    bulletins: dict[Any, Bulletin | None] = {}
    pairs = []
    for view in sets_of([rider]):
        entry = next((entry for entry in entries if entry.bike_id == view.wheel_pair.bike_id), None)
        if entry is not None and entry.day_id not in lines:
            lines[entry.day_id] = own_lines(rider, entry.day)
            bulletins[entry.day_id] = bulletin_in_force(entry.day)
        found = [line for line in lines.get(entry.day_id, ()) if line.entry_id == entry.pk] if entry else []
        axles = [_axle(axle, view, found, gauge) for axle in AXLES]
        pairs.append(PairView(view, entry, bulletins[entry.day_id] if entry else None, axles))
    return pairs


def _axle(axle: str, view: SetView, lines: list[GuidanceLine], gauge: Instrument | None) -> AxleView:
    mounted = view.tires.get(axle)
    line = next((line for line in lines if line.axle == axle), None)
    if line is None or mounted is None or line.spec_id != mounted.fitting.tire.spec_id:
        return AxleView(axle, mounted, None)
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    return AxleView(
        axle,
        mounted,
        line,
        shown_kpa=line.shown_kpa,
        target_kpa=line.hot_target_kpa + offset_kpa,
        low_kpa=line.low_kpa + offset_kpa,
        high_kpa=line.high_kpa + offset_kpa,
    )
