"""A job ticket: the two tires on the wheels, what to set, and the state of the work."""

import uuid
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.errors import NotFound, Refusal
from fleet.inventory.actions import advance_ticket
from fleet.inventory.errors import TicketMoved
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import tickets_for
from fleet.life.queries import inspections_for, last_inspections
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import PlainForm
from fleet.pages.guided import Guided, guided
from fleet.pages.trailer import trailer_zone
from fleet.running.models import PressureReading
from fleet.running.queries import pressures_for

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
    key = forms.UUIDField(required=False, widget=forms.HiddenInput, label="")
    back = forms.ChoiceField(choices=[("board", "board")], required=False, widget=forms.HiddenInput, label="")


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
    said = form.cleaned_data
    row.state = said["seen"]
    try:
        advance_ticket(by=by, ticket=row, state=said["state"], key=said["key"])
    except Refusal as refusal:
        row = ticket_of(by, pk)
        if not (isinstance(refusal, TicketMoved) and row.state == said["state"]):
            form.refuse(refusal)
            return show_ticket(request, by, row, form=form)
        messages.info(request, f"Ticket {row.number} was moved before: {row.get_state_display().lower()}.")
    else:
        state = JobTicket.State(row.state).label.lower()
        messages.success(request, f"Ticket {row.number}, {row.wheel_pair.bike.rider}: {state}.")
    return redirect("trailer") if said["back"] else redirect("ticket", pk)


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
    context = told_of(by, row, timezone.now()) | {"form": form}
    return render(request, "pages/ticket.html", context, status=422 if form else 200)


def told_of(by: Person, row: JobTicket, at: datetime) -> dict[str, Any]:
    """Return what a ticket's page and its slip tell: the tires, what to set, the day and its weather."""
    found = guided(by, row.wheel_pair, at)
    zone = found.day.layout.track.time_zone if found.day else trailer_zone(by, at)
    today = at.astimezone(ZoneInfo(zone)).date()
    was_set = _was_set(by, found, today)
    inspected = _inspected(by, found, at)
    return {
        "place": "trailer",
        "ticket": row,
        "zone": zone,
        "today": today,
        "entry": found.entry,
        "gauge": found.gauge,
        "axles": [
            _axle(axle, found) | {"was_set": was_set.get(axle), "inspected": inspected.get(axle)}
            for axle in AXLES
        ],
        "conditions": found.conditions,
        "missing": found.missing,
        "next": NEXT.get(JobTicket.State(row.state)),
        "move_key": uuid.uuid4(),
        "states": JobTicket.State.choices,
        "cautions": CAUTIONS,
    }


def _axle(axle: str, found: Guided) -> dict[str, Any]:
    # The line's figure is on the scale of the rider's gauge; the trailer sets with its own, so the true one is shown.
    line = found.lines.get(axle)
    offset_kpa = found.gauge.offset_kpa if found.gauge else 0.0
    true_kpa = line.shown_kpa - offset_kpa if line else None
    computed_kpa = line.by_hand.computed_kpa - offset_kpa if line and line.by_hand else None
    return {
        "axle": axle,
        "mounted": found.mounted.get(axle),
        "line": line,
        "fits": line is not None,
        "true_kpa": true_kpa,
        "computed_kpa": computed_kpa,
    }


def _inspected(by: Person, found: Guided, at: datetime) -> dict[str, Inspection]:
    """Return by axle what tech inspection found last on the tire, as far as the asker may read it."""
    by_axle = {axle: one.fitting.tire_id for axle, one in found.mounted.items()}
    last = last_inspections(inspections_for(by, on=at.date()), by_axle.values())
    return {axle: last[tire] for axle, tire in by_axle.items() if tire in last}


def _was_set(by: Person, found: Guided, today: date) -> dict[str, PressureReading]:
    """Return by axle what the tires were last set to at the trailer, as far as the asker may see it."""
    by_tire = {one.fitting.tire_id: axle for axle, one in found.mounted.items()}
    rows = pressures_for(by, on=today).filter(
        tire__in=by_tire, moment=PressureReading.Moment.SET, stint__isnull=True, voided_at__isnull=True
    )
    return {by_tire[one.tire_id]: one for one in reversed(rows)}
