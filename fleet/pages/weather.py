"""Entering the weather of a day, by numbers or by pasting a METAR."""

import uuid
from datetime import datetime, time
from typing import Any, ClassVar, Final
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, require
from fleet.errors import Refusal
from fleet.events.actions import record_conditions, record_metar
from fleet.events.models import Day, Standing
from fleet.pages.asking import person_of
from fleet.pages.desk import desk_day, local_date
from fleet.pages.forms import KeyField, LocalTimeField, MeasuredField, PlainForm
from fleet.pages.units import temperature_unit
from fleet.quantities import Unit

HECTOPASCAL: Final = Unit("hPa", 0, 1.0, lambda value: value * 10, lambda value: value / 10)
SKY: Final = (
    ("", "Not noted"),
    ("0", "Clear"),
    ("0.44", "Half cloud"),
    ("0.75", "Mostly cloud"),
    ("1", "Overcast"),
)
MIDDAY: Final = time(12, 0)


class NumbersForm(PlainForm):
    """The weather by number, in the units of the person who enters it."""

    def __init__(self, *args: Any, person: Person, zone: str, **kwargs: Any) -> None:
        unit = temperature_unit(person)
        super().__init__(*args, **kwargs)
        self.take(
            air_c=MeasuredField(unit=unit, low=-40, high=60, label="Air"),
            track_surface_c=MeasuredField(
                unit=unit,
                low=-30,
                high=85,
                label="Track surface",
                required=False,
                help_text="Left empty, it is estimated from the air, the sky and the sun's height.",
            ),
            cloud_fraction=forms.TypedChoiceField(
                label="Sky", choices=SKY, required=False, coerce=float, empty_value=None
            ),
            dew_point_c=MeasuredField(unit=unit, low=-60, high=40, label="Dew point", required=False),
            altimeter_kpa=MeasuredField(
                unit=HECTOPASCAL,
                low=87,
                high=108.5,
                label="Altimeter setting (QNH)",
                required=False,
                help_text="As an airfield reports it; 29.92 inches of mercury are 1013.2 hPa. Give this or the barometer; with "
                "neither, the standard atmosphere at the track's altitude is taken.",
            ),
            barometer_kpa=MeasuredField(
                unit=HECTOPASCAL, low=50, high=110, label="Barometer at the track", required=False
            ),
            holds_at=LocalTimeField(zone=zone, label="Holds at", help_text=f"The track's clock, {zone}."),
            standing=forms.ChoiceField(
                label="How it is known", choices=Standing.choices, widget=forms.RadioSelect
            ),
            source=forms.CharField(
                label="Where it comes from",
                max_length=300,
                help_text="Such as: own thermometer in the shade.",
            ),
            key=KeyField(),
        )


class MetarForm(PlainForm):
    """One whole report, as published."""

    known_as: ClassVar[dict[str, str]] = {"holds_at": "metar"}

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, prefix="report", **kwargs)
        self.take(
            metar=forms.CharField(
                label="METAR",
                max_length=300,
                widget=forms.Textarea(
                    attrs={"rows": 3, "spellcheck": "false", "autocapitalize": "characters"}
                ),
                help_text="One whole report of the nearest station; it holds at its own time.",
            ),
            track_surface_c=MeasuredField(
                unit=temperature_unit(person),
                low=-30,
                high=85,
                label="Track surface, where measured",
                required=False,
            ),
            key=KeyField(),
        )


@require_http_methods(["GET", "POST"])
def weather(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show both ways of entering the weather, and store it by numbers."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    at = timezone.now()
    form = NumbersForm(
        request.POST or None, person=by, zone=day.layout.track.time_zone, initial=_usual(day, at)
    )
    if request.method == "POST" and form.is_valid():
        try:
            record_conditions(by=by, at=at, day=day, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            return _stored(request, day)
    report = MetarForm(person=by)
    if request.method != "POST":
        report.fields["metar"].widget.attrs["autofocus"] = True
    return _show(request, day, form, report, refused=form)


@require_POST
def metar(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Store a pasted report."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    at = timezone.now()
    form = MetarForm(request.POST, person=by)
    if form.is_valid():
        try:
            record_metar(by=by, at=at, day=day, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            return _stored(request, day)
    numbers = NumbersForm(person=by, zone=day.layout.track.time_zone, initial=_usual(day, at))
    return _show(request, day, numbers, form, refused=form)


def _usual(day: Day, at: datetime) -> dict[str, Any]:
    zone = ZoneInfo(day.layout.track.time_zone)
    if local_date(day, at) == day.date:
        return {"holds_at": at, "standing": Standing.OBSERVED}
    return {"holds_at": datetime.combine(day.date, MIDDAY, tzinfo=zone), "standing": Standing.FORECAST}


def _stored(request: HttpRequest, day: Day) -> HttpResponse:
    messages.success(
        request, "The weather is stored. A new draft follows in a few seconds, or compute it now."
    )
    return redirect("day", day.pk)


def _show(
    request: HttpRequest, day: Day, numbers: NumbersForm, report: MetarForm, *, refused: PlainForm
) -> HttpResponse:
    context = {"place": "desk", "day": day, "numbers": numbers, "report": report, "form": refused}
    return render(request, "pages/weather.html", context, status=422 if refused.errors else 200)
