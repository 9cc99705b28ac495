"""The gate: a number typed or a label read, both tires' state, what was found on them last, and holds to be lifted."""

import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, may, require
from fleet.catalogue.models import Axle
from fleet.errors import NotFound, Refusal
from fleet.events.models import Day, Entry
from fleet.events.queries import entrants_for, entries_for
from fleet.inventory.actions import lift_hold
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Fitting, Hold
from fleet.life.queries import last_inspections, named_on_label, sets_of, tires_for
from fleet.pages.asking import person_of, typed
from fleet.pages.desk import desk_day, local_date
from fleet.pages.forms import PlainForm
from fleet.pages.inspection_form import InspectionForm, of_wheel

SHORTEST_LABEL: Final = 4
"""So short a text is a number on a bike and no label."""


class LiftForm(PlainForm):
    """What was checked before a tire may be used again."""

    reason = forms.CharField(label="What was checked", max_length=300)


class VoidForm(PlainForm):
    """What was wrong with an inspection that is taken back."""

    reason = forms.CharField(label="What was wrong with the entry", max_length=200)


@require_safe
def gate(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show both tires of a number."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.READ_ENTRANTS, day.event.organiser)
    return show_gate(request, by, day, typed(request.GET, "number"))


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
        return show_gate(request, by, day, number, form=form)
    try:
        lift_hold(by=by, at=timezone.now(), hold=found, reason=form.cleaned_data["reason"])
    except Refusal as refusal:
        form.refuse(refusal)
        return show_gate(request, by, day, number, form=form)
    messages.success(request, "The hold is lifted.")
    return redirect(f"{reverse('gate', args=[pk])}?number={number}")


def entry_of(by: Person, day: Day, text: str) -> Entry | None:
    """Return who rides with a number on a day, or on the tire whose label was read."""
    rows = entries_for(by).filter(day=day)
    found = rows.filter(number__iexact=text).first()
    if found is not None or len(text) < SHORTEST_LABEL:
        return found
    named = tires_for(by, on=timezone.now().date()).filter(named_on_label(text)).order_by().values("pk")
    on_wheels = Fitting.objects.filter(tire__in=named, removed_at__isnull=True, voided_at__isnull=True)
    return rows.filter(bike__in=on_wheels.values("wheel_pair__bike")).first()


def show_gate(
    request: HttpRequest, by: Person, day: Day, number: str, *, form: PlainForm | None = None
) -> HttpResponse:
    """Return the gate's page for what was typed, with a refused form where there is one."""
    entry = entry_of(by, day, number) if number else None
    may_hold = may(by, Right.HOLD, day.event.organiser)
    tires = _tires(by, day, entry, form) if entry else []
    context = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "today": day.date,
        "number": number,
        "entry": entry,
        "tires": tires,
        "may_hold": may_hold,
        "may_pass": may_hold
        and len(tires) == len(Axle)
        and not any(one["mounted"].is_stopped for one in tires),
        "lift_form": form if isinstance(form, LiftForm) else LiftForm(),
        "hides_words": not may_hold,
        "both": of_wheel("both", entry.number) if entry else None,
        "form": form,
    }
    return render(request, "pages/gate.html", context, status=422 if form is not None else 200)


def _tires(by: Person, day: Day, entry: Entry, form: PlainForm | None) -> list[dict[str, Any]]:
    """Return what is on the wheels of an entry, what was found on it last, and the form to say what is found now."""
    mounted = [
        one
        for view in sets_of(entrants_for(by, on=timezone.now().date()).filter(pk=entry.rider_id))
        if view.wheel_pair.bike_id == entry.bike_id
        for one in view.tires.values()
    ]
    rows = gate_inspections(day)
    last = last_inspections(rows, [one.fitting.tire_id for one in mounted])
    refused = form if isinstance(form, InspectionForm) else None
    return [
        {
            "mounted": one,
            "holds": one.holds,
            "last": (found := last.get(one.fitting.tire_id)),
            "is_of_the_day": found is not None and local_date(day, found.inspected_at) == day.date,
            "form": refused
            if refused is not None and refused.data.get("axle") == one.fitting.axle
            else of_wheel(one.fitting.axle, entry.number),
        }
        for one in mounted
    ]


def gate_inspections(day: Day) -> QuerySet[Inspection]:
    """Return the standing inspections of a day's organiser."""
    rows = Inspection.objects.standing().filter(inspected_for=day.event.organiser)
    return rows.select_related("inspected_for")
