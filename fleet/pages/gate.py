"""The gate: a number typed, both tires' state and holds; the inspector places and lifts holds here."""

import uuid
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, may, require
from fleet.errors import NotFound, Refusal
from fleet.events.models import Day, Entry
from fleet.events.queries import entrants_for, entries_for
from fleet.inventory.actions import lift_hold, place_hold
from fleet.inventory.models import Hold
from fleet.life.queries import sets_of, tires_for
from fleet.pages.asking import person_of, typed
from fleet.pages.desk import desk_day
from fleet.pages.forms import KeyField, PlainForm
from fleet.pages.outbox import made_at


class HoldForm(PlainForm):
    """Why a tire must not be used."""

    note = forms.CharField(label="What is wrong with it", max_length=300)
    key = KeyField()


class LiftForm(PlainForm):
    """What was checked before a tire may be used again."""

    reason = forms.CharField(label="What was checked", max_length=300)


@require_safe
def gate(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show both tires of a number."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.READ_ENTRANTS, day.event.organiser)
    return _show(request, by, day, typed(request.GET, "number"))


@require_POST
def hold(request: HttpRequest, pk: uuid.UUID, tire: uuid.UUID) -> HttpResponse:
    """Place a hold of tech inspection on a tire."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.HOLD, day.event.organiser)
    at = timezone.now()
    found = tires_for(by, on=at.date()).filter(pk=tire).first()
    if found is None:
        raise NotFound("There is no such tire among the entrants: type the number again.")
    form = HoldForm(request.POST)
    number = typed(request.POST, "number")
    if not form.is_valid():
        return _show(request, by, day, number, form=form)
    try:
        place_hold(
            by=by,
            at=at,
            tire=found,
            placed_for=day.event.organiser,
            reason=Hold.Reason.INSPECTION,
            placed_at=made_at(request),
            note=form.cleaned_data["note"],
            key=form.cleaned_data["key"],
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, day, number, form=form)
    messages.success(request, f"Hold placed on {found}: it does not go out until it is lifted.")
    return redirect(f"{reverse('gate', args=[pk])}?number={number}")


@require_POST
def lift(request: HttpRequest, pk: uuid.UUID, hold: uuid.UUID) -> HttpResponse:
    """Lift a hold with a reason."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.HOLD, day.event.organiser)
    found = Hold.objects.filter(
        pk=hold, tire__in=tires_for(by, on=timezone.now().date()).values("pk")
    ).first()
    if found is None:
        raise NotFound("There is no such hold among the entrants: type the number again.")
    form = LiftForm(request.POST)
    number = typed(request.POST, "number")
    if not form.is_valid():
        return _show(request, by, day, number, form=form)
    try:
        lift_hold(by=by, at=timezone.now(), hold=found, reason=form.cleaned_data["reason"])
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, day, number, form=form)
    messages.success(request, "The hold is lifted.")
    return redirect(f"{reverse('gate', args=[pk])}?number={number}")


def _tires(by: Person, entry: Entry, at: datetime) -> list[dict[str, Any]]:
    return [
        {"mounted": mounted, "holds": mounted.fitting.tire.open_holds}  # type: ignore[attr-defined]
        for view in sets_of(entrants_for(by, on=at.date()).filter(pk=entry.rider_id))
        if view.wheel_pair.bike_id == entry.bike_id
        for mounted in view.tires.values()
    ]


def _show(
    request: HttpRequest, by: Person, day: Day, number: str, *, form: PlainForm | None = None
) -> HttpResponse:
    entry = entries_for(by).filter(day=day, number__iexact=number).first() if number else None
    context = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "today": day.date,
        "number": number,
        "entry": entry,
        "tires": _tires(by, entry, timezone.now()) if entry else [],
        "may_hold": may(by, Right.HOLD, day.event.organiser),
        "hold_form": form if isinstance(form, HoldForm) else HoldForm(),
        "lift_form": form if isinstance(form, LiftForm) else LiftForm(),
        "form": form,
    }
    return render(request, "pages/gate.html", context, status=422 if form is not None else 200)
