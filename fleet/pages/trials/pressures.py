"""Start pressures for tires nobody here has used: what others reported, weighed for the day, beside the maker's figures."""

import uuid
from datetime import datetime
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.events.models import Conditions
from fleet.events.weather import barometer_at
from fleet.pages.asking import person_of
from fleet.pages.forms import MeasuredField, PlainForm
from fleet.pages.trials.notes import NoteForm
from fleet.pages.trials.reaching import about, test_seen
from fleet.pages.units import temperature_unit
from fleet.trials.gathered import gathered_for
from fleet.trials.models import Side, TireTest

USUAL_AIR_C: Final = 20.0
USUAL_TRACK_C: Final = 30.0
SEA_LEVEL_KPA: Final = 101.325


class WeatherForm(PlainForm):
    """The day the notes are weighed for."""

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = temperature_unit(person)
        self.take(
            air_c=MeasuredField(unit=unit, low=-10, high=45, label="Air"),
            track_surface_c=MeasuredField(unit=unit, low=-10, high=70, label="Track surface"),
        )


@require_safe
def start_pressures(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show both tires of the candidate with every note found, what it counts, and what follows from all."""
    by, at = person_of(request), timezone.now()
    test = test_seen(by, pk)
    usual = weather_of(test, at)
    is_asked = "air_c" in request.GET
    form = WeatherForm(request.GET if is_asked else None, person=by, initial=usual)
    asked = form.cleaned_data if is_asked and form.is_valid() else usual
    told = about(request, test)
    context = told | {
        "form": form,
        "note_form": NoteForm(test=test, person=by) if told["runs_it"] else None,
        "asked": asked,
        "barometer_kpa": _barometer(test),
        "tires": gathered_for(
            list(test.specs(Side.CANDIDATE.value).values()),
            testing=test.organisation,
            air_c=asked["air_c"],
            track_surface_c=asked["track_surface_c"],
            barometer_kpa=_barometer(test),
            on=at.date(),
        ),
    }
    return render(request, "pages/trials/start_pressures.html", context, status=422 if form.errors else 200)


def weather_of(test: TireTest, at: datetime) -> dict[str, float]:
    """Return the weather the notes are weighed for: of the test's track now, else a usual day's."""
    row = (
        Conditions.objects.filter(
            day__layout__track=test.layout.track_id, day__date=test.planned_on, voided_at__isnull=True
        )
        .exclude(standing="estimated", holds_at__gt=at)
        .order_by("-holds_at", "id")
        .first()
        if test.layout
        else None
    )
    if row is None:
        return {"air_c": USUAL_AIR_C, "track_surface_c": USUAL_TRACK_C}
    return {"air_c": row.air_c, "track_surface_c": row.track_surface_c}


def _barometer(test: TireTest) -> float:
    return barometer_at(test.layout.track, altimeter_kpa=None) if test.layout else SEA_LEVEL_KPA
