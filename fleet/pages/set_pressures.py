"""Pressures set at the trailer: filled in with the start pressures at the temperature the tires have now."""

import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.accounts.models import Organisation, Person
from fleet.catalogue.models import AXLES
from fleet.errors import Refusal
from fleet.garage.models import Instrument, WheelPair
from fleet.garage.queries import gauges_of
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import tickets_for
from fleet.pages.asking import as_uuid, person_of, require_place
from fleet.pages.fit import NO_TICKET_YET
from fleet.pages.forms import KeyField, LocalTimeField, MeasuredField, PlainForm
from fleet.pages.guided import Guided, guided
from fleet.pages.ticket import ticket_of
from fleet.pages.trailer import trailer_zone, vendor_for, wheel_pair_served
from fleet.pages.units import pressure, pressure_unit, temperature, temperature_unit
from fleet.pressures.at_the_wheel import COLDEST_C, HOTTEST_C, starts_at
from fleet.pressures.lines import step_on
from fleet.pressures.models import GuidanceLine
from fleet.running.actions import set_pressures
from fleet.running.actions.at_the_trailer import AsSet
from fleet.running.models import PressureReading

NO_GAUGE: Final = ""
KNOWN_AS: Final = {"pressure_kpa": "front_kpa", "tire_c": "front_c", "instrument": "gauge"}


class PressuresForm(PlainForm):
    """What each tire was set to, how warm it was, and on which gauge."""

    known_as = KNOWN_AS

    def __init__(
        self, *args: Any, person: Person, axles: list[str], gauges: list[Instrument], zone: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        unit, warm = pressure_unit(person), temperature_unit(person)
        for axle in axles:
            self.take(**{
                f"{axle}_kpa": MeasuredField(
                    unit=unit, low=50, high=700, label=f"{axle.title()} pressure", required=False
                ),
                f"{axle}_c": MeasuredField(
                    unit=warm, low=-20, high=140, label=f"{axle.title()} tire temperature", required=False
                ),
            })  # fmt: skip
        self.take(
            gauge=forms.ChoiceField(
                label="Gauge",
                choices=[
                    *((str(one.pk), one.name) for one in gauges),
                    (NO_GAUGE, "Another one, taken as true"),
                ],
                required=False,
            ),
            taken_at=LocalTimeField(zone=zone, label="Set at", help_text=f"The track's clock, {zone}."),
            key=KeyField(),
        )
        if not self.is_bound:  # what somebody typed stays, also when the form comes back
            self.fields["taken_at"].widget.attrs["data-now"] = zone
        self.gauges = {str(one.pk): one for one in gauges}

    @property
    def gauge(self) -> Instrument | None:
        """The gauge that is chosen."""
        return self.gauges.get(str(self["gauge"].value() or ""))

    def by_axle(self) -> dict[str, AsSet]:
        """Return what was typed, for the axles that have a pressure."""
        said = self.cleaned_data
        return {
            axle: AsSet(said[f"{axle}_kpa"], said[f"{axle}_c"])
            for axle in AXLES
            if said.get(f"{axle}_kpa") is not None
        }


@dataclass(frozen=True)
class Work:
    """The wheels whose pressures are set, by whose crew, and what is known of how to set them."""

    by: Person
    vendor: Organisation
    pair: WheelPair
    guided: Guided
    at: datetime
    ticket: JobTicket | None = None
    waiting: uuid.UUID | None = None

    @property
    def axles(self) -> list[str]:
        """Which wheels carry a tire."""
        return [axle for axle in AXLES if axle in self.guided.mounted]


@require_http_methods(["GET", "POST"])
def pressures(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the form of a ticket's wheels, and store what they were set to."""
    by = person_of(request)
    row = ticket_of(by, pk)
    at = timezone.now()
    work = Work(by, row.vendor, row.wheel_pair, guided(by, row.wheel_pair, at), at, row)
    if _is_stored(work, request.POST.get("key", "")):
        messages.info(request, "This was stored before; it is stored once.")
        return redirect("ticket", pk)
    form = _form(request, work)
    if request.method == "POST" and form.is_valid():
        try:
            stored = set_pressures(
                by=by, at=at, wheel_pair=row.wheel_pair, taken_at=form.cleaned_data["taken_at"], vendor=row.vendor,
                by_axle=form.by_axle(), instrument=form.gauge, key=form.cleaned_data["key"],
            )  # fmt: skip
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _confirmation(stored, form.gauge, by))
            return redirect("ticket", pk)
    return _shown(request, work, form)


@require_safe
def wheels_pressures(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the same form for wheels whose ticket is open, or waits on the device to be sent before it."""
    by = person_of(request)
    require_place(by, "trailer")
    pair = wheel_pair_served(by, pk)
    named = as_uuid(request.GET.get("ticket", ""))
    here = tickets_for(by).filter(wheel_pair=pair)
    row = here.filter(pk=named).first() if named else here.exclude(state=JobTicket.State.COLLECTED).first()
    at = timezone.now()
    vendor = row.vendor if row else vendor_for(by, pair.bike.rider)
    work = Work(by, vendor, pair, guided(by, pair, at), at, row, named)
    return _shown(request, work, _form(request, work))


def _is_stored(work: Work, key: str) -> bool:
    pk = as_uuid(key)
    if pk is None:
        return False
    keys = [uuid.uuid5(pk, axle) for axle in AXLES]
    return PressureReading.objects.filter(
        pk__in=keys, recorded_by=work.by, tire__owner=work.pair.bike.rider
    ).exists()


def _form(request: HttpRequest, work: Work) -> PressuresForm:
    gauges = list(gauges_of(work.vendor))
    asked = PressuresForm(
        request.GET, person=work.by, axles=work.axles, gauges=gauges, zone=trailer_zone(work.by, work.at)
    )
    asked.is_valid()
    gauge = asked.gauge or next(iter(gauges), None)
    initial: dict[str, Any] = {"taken_at": work.at, "gauge": str(gauge.pk) if gauge else NO_GAUGE}
    for axle, line in work.guided.to_set.items():
        tire_c = asked.cleaned_data.get(f"{axle}_c")
        initial[f"{axle}_c"] = tire_c
        initial[f"{axle}_kpa"] = _at(work, axle, gauge, _usual_c(work, line) if tire_c is None else tire_c)
    return PressuresForm(
        request.POST if request.method == "POST" else None, person=work.by, axles=work.axles, gauges=gauges,
        zone=trailer_zone(work.by, work.at), initial=initial,
    )  # fmt: skip


def _usual_c(work: Work, line: GuidanceLine) -> float:
    """Return how warm a tire is taken to be: as its line says, and before the warmers as the air, since it is set cold here."""
    ground = work.guided.ground
    return ground.conditions.air_c if line.uses_warmers and ground else line.tire_c


def _at(work: Work, axle: str, gauge: Instrument | None, tire_c: float) -> float | None:
    ground = work.guided.ground
    if ground is None or not COLDEST_C <= tire_c <= HOTTEST_C:
        return None
    starts = starts_at(ground, {axle: work.guided.to_set[axle]}, [tire_c], gauge=work.guided.gauge)[axle]
    return float(starts.shown_on(gauge, step_on(gauge, work.by))[0])


def _shown(request: HttpRequest, work: Work, form: PressuresForm) -> HttpResponse:
    ticket = work.ticket.pk if work.ticket else work.waiting
    context = {
        "place": "trailer", "ticket": work.ticket, "pair": work.pair, "form": form, "guided": work.guided,
        "wheels": [_wheel(axle, work, form) for axle in work.axles],
        "action": reverse("pressures", args=[ticket]) if ticket else "",
        "action_of": reverse("pressures", args=[NO_TICKET_YET]), "zone": trailer_zone(work.by, work.at),
    }  # fmt: skip
    return render(request, "pages/set_pressures.html", context, status=422 if form.errors else 200)


def _wheel(axle: str, work: Work, form: PressuresForm) -> dict[str, Any]:
    """Return what one wheel's part of the page shows, with the figure of every gauge at every whole degree."""
    told: dict[str, Any] = {
        "axle": axle, "mounted": work.guided.mounted[axle], "pressure": form[f"{axle}_kpa"], "warmth": form[f"{axle}_c"],
    }  # fmt: skip
    line, ground = work.guided.to_set.get(axle), work.guided.ground
    if line is None or ground is None:
        return told
    unit, warm = pressure_unit(work.by), temperature_unit(work.by)
    first, last = (round(warm.shown(end_c)) for end_c in (COLDEST_C, HOTTEST_C))
    # At the degree of the line its own figure stands, so that no page names two.
    own, usual = (round(warm.shown(tire_c)) for tire_c in (line.tire_c, _usual_c(work, line)))
    degrees_c = [line.tire_c if degree == own else warm.stored(degree) for degree in range(first, last + 1)]
    starts = starts_at(ground, {axle: line}, degrees_c, gauge=work.guided.gauge)[axle]
    figures = {
        pk: [unit.figure(float(kpa)) for kpa in starts.shown_on(gauge, step_on(gauge, work.by))]
        for pk, gauge in [*form.gauges.items(), (NO_GAUGE, None)]
    }
    form.fields[f"{axle}_c"].widget.attrs["placeholder"] = str(usual)
    offset_kpa = work.guided.gauge.offset_kpa if work.guided.gauge else 0.0
    return told | {
        "line": line,
        "computed_kpa": line.by_hand.computed_kpa - offset_kpa if line.by_hand else None,
        "first": first,
        "usual": usual,
        "usual_c": _usual_c(work, line),
        "sign": warm.sign,
        "starts": json.dumps(figures),
    }


def _confirmation(stored: Mapping[str, PressureReading], gauge: Instrument | None, by: Person) -> str:
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    said = [
        f"{axle} {pressure(one.pressure_kpa + offset_kpa, by)}"
        + (f" at {temperature(one.tire_c, by)}" if one.tire_c is not None else "")
        for axle, one in stored.items()
    ]
    return f"Pressures set: {', '.join(said)}{f', on {gauge.name}' if gauge else ''}."
