"""Recording an inspection: by number and wheel, so that the list of the morning is enough with no network."""

import uuid
from datetime import datetime
from typing import Final

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, require
from fleet.errors import Invalid, NotFound, Refusal
from fleet.events.models import Day, Entry
from fleet.inventory.actions import inspect_tire, void_inspection
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Fitting
from fleet.inventory.queries import fitted_at
from fleet.life.queries import tires_for
from fleet.pages.asking import person_of, typed
from fleet.pages.desk import desk_day
from fleet.pages.forms import PlainForm
from fleet.pages.gate import VoidForm, entry_of, show_gate
from fleet.pages.inspection_form import InspectionForm
from fleet.pages.outbox import made_at

AXLES: Final = {"front": ("front",), "rear": ("rear",), "both": ("front", "rear")}
NOT_LOGGED: Final = "No tire is logged on the {axle} wheel this bike uses: look at the bike, and send the rider to the trailer."


@require_POST
def inspect(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Record what was found on one wheel of a number, or on both."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.HOLD, day.event.organiser)
    given = request.POST.get("axle", "")
    form = InspectionForm(request.POST, request.FILES, auto_id=f"{given}-%s" if given in AXLES else "id_%s")
    number = typed(request.POST, "number")
    if not form.is_valid():
        return show_gate(request, by, day, number, form=form)
    try:
        said = _inspect(request, by, day, form)
    except Refusal as refusal:
        form.refuse(refusal)
        return show_gate(request, by, day, number, form=form)
    messages.success(request, said)
    address = reverse("gate", args=[pk])
    is_done = given == "both" and form.cleaned_data["outcome"] == Inspection.Outcome.PASS
    return redirect(address if is_done else f"{address}?number={number}")


@require_POST
def take_back(request: HttpRequest, pk: uuid.UUID, inspection: uuid.UUID) -> HttpResponse:
    """Void an inspection that was recorded wrongly."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.HOLD, day.event.organiser)
    found = (
        Inspection.objects.standing()
        .filter(pk=inspection, inspected_for=day.event.organiser)
        .select_related("inspected_for", "hold")
        .first()
    )
    if found is None:
        raise NotFound("There is no such inspection of yours: type the number again.")
    form = VoidForm(request.POST)
    number = typed(request.POST, "number")
    if not form.is_valid():
        return show_gate(request, by, day, number, form=form)
    void_inspection(by=by, at=timezone.now(), inspection=found, reason=form.cleaned_data["reason"])
    messages.success(request, "The inspection is taken back.")
    return redirect(f"{reverse('gate', args=[pk])}?number={number}")


def _inspect(request: HttpRequest, by: Person, day: Day, form: PlainForm) -> str:
    """Store an inspection for each wheel meant; the second one's key follows from the first."""
    said, moment, at = form.cleaned_data, made_at(request), timezone.now()
    entry = entry_of(by, day, said["number"])
    if entry is None:
        raise Invalid(
            f"Nobody rides with the number {said['number']} on this day: read it again off the bike.",
            field="number",
        )
    axles = AXLES[said["axle"]]
    on_wheels = _fitted(by, entry, moment, at)
    for axle in axles:
        if axle not in on_wheels:
            raise Invalid(NOT_LOGGED.format(axle=axle), field="axle")
    for axle in axles:
        inspect_tire(
            by=by,
            at=at,
            tire=on_wheels[axle].tire,
            inspected_for=day.event.organiser,
            outcome=said["outcome"],
            inspected_at=moment,
            words=said["words"],
            photo=said["photo"],
            key=said["key"] if axle == axles[0] else uuid.uuid5(said["key"], axle),
        )
    came = dict(Inspection.Outcome.choices)[said["outcome"]].lower()
    return f"{entry.number} {entry.rider}, {' and '.join(axles)}: {came} is recorded."


def _fitted(by: Person, entry: Entry, moment: datetime, at: datetime) -> dict[str, Fitting]:
    """Return by axle what was on the wheels in use when it was looked at, where the crew may see it."""
    pairs = list(entry.bike.wheel_pairs.filter(is_in_use=True).values_list("pk", flat=True))
    seen = tires_for(by, on=at.date()).order_by().values("pk")
    rows = fitted_at(pairs, moment).filter(tire__in=seen).select_related("tire__owner", "tire__lot")
    return {one.axle: one for one in rows}
