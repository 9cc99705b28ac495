"""A job ticket: the two tires on the wheels, what to set, the state of the work, and the slip for the rider."""

import uuid
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.errors import NotFound, Refusal
from fleet.events.models import Entry
from fleet.events.queries import coming_entries
from fleet.garage.models import Instrument
from fleet.inventory.actions import advance_ticket
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import tickets_for
from fleet.life.queries import MountedTire, sets_of
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import PlainForm
from fleet.pages.garage import own_gauge
from fleet.pages.trailer import trailer_zone
from fleet.pressures.models import GuidanceLine
from fleet.pressures.queries import own_lines

AXLES: Final = ("front", "rear")
NEXT: Final = {
    JobTicket.State.WAITING: (JobTicket.State.ON_MACHINE, "Put on the machine"),
    JobTicket.State.ON_MACHINE: (JobTicket.State.READY, "Wheels are ready"),
    JobTicket.State.READY: (JobTicket.State.COLLECTED, "Rider collected them"),
}
CAUTIONS: Final = (
    "Seat beads only up to the tire and rim maker's limit, behind a guard, fingers away; fitting is work for a trained "
    "person.",
    "After the wheels go back: axle and pinch bolts to the maker's torque, pump the brake before moving off.",
    "New tires are slippery: scrub in, build up over the first laps.",
    "A start pressure is a starting point. The tire maker's published range and the bike's placard come first; check "
    "with your own gauge.",
    "Scrap tires go through licensed disposal under local rules.",
)


class MoveForm(PlainForm):
    """The state somebody saw, and the one the ticket goes to."""

    seen = forms.ChoiceField(choices=JobTicket.State.choices, widget=forms.HiddenInput, label="")
    state = forms.ChoiceField(choices=JobTicket.State.choices, label="State")


@require_safe
def ticket(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show a ticket."""
    by = person_of(request)
    return show_ticket(request, by, ticket_of(by, pk))


@require_POST
def move(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Move a ticket to another state."""
    by = person_of(request)
    row = ticket_of(by, pk)
    form = MoveForm(request.POST)
    if not form.is_valid():
        return show_ticket(request, by, row, form=form)
    row.state = form.cleaned_data["seen"]
    try:
        advance_ticket(by=by, ticket=row, state=form.cleaned_data["state"])
    except Refusal as refusal:
        form.refuse(refusal)
        return show_ticket(request, by, ticket_of(by, pk), form=form)
    messages.success(request, f"Ticket {row.number}: {JobTicket.State(row.state).label.lower()}.")
    return redirect("ticket", pk)


@require_safe
def slip(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the slip that goes back with the wheels, to print on A6."""
    by = person_of(request)
    row = ticket_of(by, pk)
    return render(request, "pages/slip.html", _context(by, row, timezone.now()))


def ticket_of(by: Person, pk: uuid.UUID) -> JobTicket:
    """Return a ticket of one of somebody's vendors."""
    require_place(by, "trailer")
    found = tickets_for(by).filter(pk=pk).first()
    if found is None:
        raise NotFound("There is no such ticket at your trailer: choose one from the list.")
    return found


def show_ticket(
    request: HttpRequest, by: Person, row: JobTicket, *, form: PlainForm | None = None
) -> HttpResponse:
    """Return the ticket's page, with a refused form where there is one."""
    context = _context(by, row, timezone.now()) | {"form": form}
    return render(request, "pages/ticket.html", context, status=422 if form else 200)


def mounted_on(row: JobTicket) -> dict[str, MountedTire]:
    """Return by axle what is on a ticket's wheels."""
    views = sets_of([row.wheel_pair.bike.rider], only_in_use=False)
    return next((view.tires for view in views if view.wheel_pair.pk == row.wheel_pair_id), {})


def _context(by: Person, row: JobTicket, at: datetime) -> dict[str, Any]:
    entry = _next_entry(row, at)
    lines = _lines(row, entry)
    mounted = mounted_on(row)
    gauge = own_gauge(row.wheel_pair.bike.rider)
    zone = entry.day.layout.track.time_zone if entry else trailer_zone(by, at)
    return {
        "place": "trailer",
        "ticket": row,
        "zone": zone,
        "today": at.astimezone(ZoneInfo(zone)).date(),
        "entry": entry,
        "gauge": gauge,
        "axles": [_axle(axle, mounted.get(axle), lines.get(axle), gauge) for axle in AXLES],
        "conditions": next(iter(lines.values())).guidance.conditions if lines else None,
        "next": NEXT.get(JobTicket.State(row.state)),
        "states": JobTicket.State.choices,
        "cautions": CAUTIONS,
    }


def _axle(
    axle: str, mounted: MountedTire | None, line: GuidanceLine | None, gauge: Instrument | None
) -> dict[str, Any]:
    # The line's figure is on the scale of the rider's gauge; the trailer sets with its own, so the true one is shown.
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    fits = line is not None and mounted is not None and line.spec_id == mounted.fitting.tire.spec_id
    true_kpa = line.shown_kpa - offset_kpa if line and fits else None
    return {"axle": axle, "mounted": mounted, "line": line, "fits": fits, "true_kpa": true_kpa}


def _next_entry(row: JobTicket, at: datetime) -> Entry | None:
    entries = coming_entries([row.wheel_pair.bike.rider], at=at)
    return next((entry for entry in entries if entry.bike_id == row.wheel_pair.bike_id), None)


def _lines(row: JobTicket, entry: Entry | None) -> dict[str, GuidanceLine]:
    if entry is None or not row.wheel_pair.is_in_use:
        return {}
    found = own_lines(row.wheel_pair.bike.rider, entry.day)
    return {line.axle: line for line in found if line.entry_id == entry.pk}
