"""Taking a pair of wheels in, and changing what is wanted of wheels that are here."""

import uuid
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.errors import Refusal
from fleet.garage.models import WheelPair
from fleet.inventory.actions import correct_ticket, take_wheels_in
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import open_tickets, tickets_for
from fleet.life.queries import MountedTire, sets_of
from fleet.pages.asking import as_uuid, person_of, require_place
from fleet.pages.outbox import made_at
from fleet.pages.ticket import ticket_of
from fleet.pages.trailer import trailer_zone, vendor_for, wheel_pair_served
from fleet.pages.wishing import WishForm, initial_of, initial_of_ticket, next_slots, offers_for


@require_http_methods(["GET", "POST"])
def take_in(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Ask what is wanted of a pair of wheels, and open their ticket."""
    by = person_of(request)
    require_place(by, "trailer")
    pair = wheel_pair_served(by, pk)
    if stored := _stored(by, pair, request.POST.get("key", "")):
        messages.info(request, "This was stored before; it is stored once.")
        return redirect("ticket", stored.pk)
    at = timezone.now()
    form, context = _asked(request, by, pair, at)
    here = open_tickets(by).filter(wheel_pair=pair).first()
    if request.method == "POST" and form.is_valid() and here is not None:
        form.add_error(
            None, f"These wheels are here already, as number {here.number}: go on with that ticket."
        )
    elif request.method == "POST" and form.is_valid():
        try:
            ticket = _open(by, at, pair, form, context["zone"], made_at(request))
        except Refusal as refusal:
            form.refuse(refusal)
            here = open_tickets(by).filter(wheel_pair=pair).first()
        else:
            messages.success(request, f"Ticket {ticket.number} is open: tell {pair.bike.rider} the number.")
            return redirect("ticket", ticket.pk)
    return render(request, "pages/take_in.html", context | {"here": here}, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def wishes(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Change what is wanted of wheels that are here, and by when."""
    by = person_of(request)
    ticket = ticket_of(by, pk)
    at = timezone.now()
    form, context = _asked(request, by, ticket.wheel_pair, at, ticket)
    if request.method == "POST" and form.is_valid():
        try:
            correct_ticket(
                by=by,
                at=at,
                ticket=ticket,
                wish=form.cleaned_data["wish"],
                promised_at=form.promised(at),
                wishes=form.wishes,
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Ticket {ticket.number} says so now.")
            return redirect("ticket", pk)
    return render(request, "pages/take_in.html", context, status=422 if form.errors else 200)


def _open(
    by: Person, at: datetime, pair: WheelPair, form: WishForm, zone: str, opened_at: datetime
) -> JobTicket:
    said = form.cleaned_data
    return take_wheels_in(
        by=by,
        at=at,
        vendor=vendor_for(by, pair.bike.rider),
        wheel_pair=pair,
        opened_on=opened_at.astimezone(ZoneInfo(zone)).date(),
        opened_at=opened_at,
        wish=said["wish"],
        promised_at=form.promised(opened_at),
        wishes=form.wishes,
        key=said["key"],
    )


def _asked(
    request: HttpRequest, by: Person, pair: WheelPair, at: datetime, ticket: JobTicket | None = None
) -> tuple[WishForm, dict[str, Any]]:
    """Return the form of a pair of wheels, as sent or as most riders want it, and what is shown around it."""
    vendor = ticket.vendor if ticket else vendor_for(by, pair.bike.rider)
    entry, slots = next_slots(pair, at)
    zone = entry.day.layout.track.time_zone if entry else trailer_zone(by, at)
    tires = _tires(pair)
    offers = offers_for(by, vendor, pair, at, ticket.wishes.all() if ticket else ())
    form = WishForm(
        request.POST if request.method == "POST" else None,
        initial=initial_of_ticket(ticket) if ticket else initial_of(tires, offers, slots),
        offers=offers, mounted=tires, slots=slots, zone=zone, pair=pair, at=at, ticket=ticket,
    )  # fmt: skip
    context = {
        "place": "trailer",
        "pair": pair,
        "ticket": ticket,
        "entry": entry,
        "zone": zone,
        "form": form,
        "axles": [(axle, tires.get(axle), form[f"{axle}_on"], _off(form, axle)) for axle in AXLES],
    }
    return form, context


def _off(form: WishForm, axle: str) -> Any:
    return form[f"{axle}_off"] if f"{axle}_off" in form.fields else None


def _tires(pair: WheelPair) -> dict[str, MountedTire]:
    views = sets_of([pair.bike.rider], only_in_use=False)
    return next((view.tires for view in views if view.wheel_pair.pk == pair.pk), {})


def _stored(by: Person, pair: WheelPair, key: str) -> JobTicket | None:
    pk = as_uuid(key)
    return tickets_for(by).filter(pk=pk, wheel_pair=pair).first() if pk else None
