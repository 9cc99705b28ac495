"""The trailer's start page: the day's job tickets by state, taking wheels in, and what is left to fit."""

import uuid
from collections import defaultdict
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import NotFound, Refusal
from fleet.events.models import Day
from fleet.garage.models import Rider, WheelPair
from fleet.inventory.actions import take_wheels_in
from fleet.inventory.models import JobTicket, Lot
from fleet.inventory.queries import lots_for, riders_served, serves, tickets_for
from fleet.life.queries import SetView, sets_of
from fleet.pages.asking import person_of, require_place, typed
from fleet.pages.forms import PlainForm

MOST_FOUND = 12


class TakeInForm(PlainForm):
    """Whose wheels, and what the rider wishes."""

    wheel_pair = forms.UUIDField(widget=forms.HiddenInput, label="")
    wish = forms.CharField(
        label="What the rider wishes", max_length=200, required=False, help_text="Such as: new rear, by 9:30."
    )


@require_safe
def trailer(request: HttpRequest) -> HttpResponse:
    """Show the tickets that are open and today's collected ones, by state."""
    by = person_of(request)
    require_place(by, "trailer")
    zone = trailer_zone(by, timezone.now())
    today = timezone.now().astimezone(ZoneInfo(zone)).date()
    tickets = defaultdict(list)
    for ticket in tickets_for(by).filter(Q(opened_on=today) | ~Q(state=JobTicket.State.COLLECTED)):
        tickets[ticket.state].append(ticket)
    context = {
        "place": "trailer",
        "zone": zone,
        "today": today,
        "states": [(state, tickets[state.value]) for state in JobTicket.State],
        "has_tickets": bool(tickets),
        "stock": stock_on_trailer(by),
    }
    return render(request, "pages/trailer.html", context)


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Show the wheel pairs of the riders whose code or name was typed."""
    by = person_of(request)
    require_place(by, "trailer")
    return _found(request, by, typed(request.GET, "who"))


@require_POST
def take_in(request: HttpRequest) -> HttpResponse:
    """Open a ticket for a wheel pair, or go to the one these wheels are here with already."""
    by = person_of(request)
    require_place(by, "trailer")
    form = TakeInForm(request.POST)
    if not form.is_valid():
        return _found(request, by, typed(request.POST, "who"), form=form)
    pair = wheel_pair_served(by, form.cleaned_data["wheel_pair"])
    here = tickets_for(by).filter(wheel_pair=pair).exclude(state=JobTicket.State.COLLECTED).first()
    if here is not None:
        messages.info(request, "These wheels are here already: this is their ticket.")
        return redirect("ticket", here.pk)
    at = timezone.now()
    try:
        ticket = take_wheels_in(
            by=by,
            at=at,
            vendor=_vendor(by, pair.bike.rider),
            wheel_pair=pair,
            opened_on=local_today(by, at),
            wish=form.cleaned_data["wish"],
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return _found(request, by, typed(request.POST, "who"), form=form)
    messages.success(request, f"Ticket {ticket.number} is open.")
    return redirect("ticket", ticket.pk)


def trailer_zone(by: Person, at: datetime) -> str:
    """Return the time zone of the track the trailer works at: of the next day its riders entered, or of the last."""
    days = Day.objects.filter(entries__rider__in=riders_served(by)).select_related("layout__track")
    coming = days.filter(date__gte=at.date() - timedelta(days=1)).order_by("date", "pk").first()
    nearest = coming or days.order_by("-date", "pk").first()
    return nearest.layout.track.time_zone if nearest else "UTC"


def local_today(by: Person, at: datetime) -> date:
    """Return the date at the track the trailer works at."""
    return at.astimezone(ZoneInfo(trailer_zone(by, at))).date()


def wheel_pair_served(by: Person, pk: uuid.UUID) -> WheelPair:
    """Return a wheel pair of a rider whom somebody's vendor serves."""
    pair = (
        WheelPair.objects.filter(pk=pk, bike__rider__in=riders_served(by))
        .select_related("bike__rider")
        .first()
    )
    if pair is None:
        raise NotFound("There are no such wheels among the riders you serve: look the rider up again.")
    return pair


def lots_on_trailer(by: Person) -> list[tuple[Lot, int]]:
    """Return the lots that have tires on the trailer, the oldest first, with how many."""
    counted = [(lot, int(getattr(lot, "on_trailer", 0))) for lot in lots_for(by)]
    return [(lot, left) for lot, left in counted if left > 0]


def stock_on_trailer(by: Person) -> list[dict[str, Any]]:
    """Return what is left on the trailer by spec, front before rear, with the date of the oldest lot."""
    rows: dict[uuid.UUID, dict[str, Any]] = {}
    for lot, left in lots_on_trailer(by):
        row = rows.setdefault(lot.spec_id, {"spec": lot.spec, "left": 0, "oldest": lot.made_on, "lots": 0})
        row["left"] += left
        row["lots"] += 1
    return sorted(rows.values(), key=lambda row: (row["spec"].axle, str(row["spec"])))


def _vendor(by: Person, rider: Rider) -> Organisation:
    vendors = [vendor for vendor in organisations(by, Right.FIT).order_by("name") if serves(vendor, rider)]
    if not vendors:
        raise NotFound("None of your vendors serves this rider: look the rider up again.")
    return vendors[0]


def _found(request: HttpRequest, by: Person, who: str, *, form: PlainForm | None = None) -> HttpResponse:
    riders = (
        riders_served(by)
        .filter(Q(code__iexact=who) | Q(name__icontains=who))
        .distinct()
        .order_by("name", "pk")
    )
    found = list(riders[:MOST_FOUND]) if who else []
    views: list[SetView] = sets_of(found, only_in_use=False) if found else []
    context = {
        "place": "trailer",
        "who": who,
        "views": views,
        "without_wheels": [r for r in found if r.pk not in {v.wheel_pair.bike.rider_id for v in views}],
        "form": form or TakeInForm(),
        "is_cut": len(found) == MOST_FOUND,
    }
    return render(request, "pages/take_in.html", context, status=422 if form else 200)
