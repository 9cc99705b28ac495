"""Logging a stint: two hot pressures, laps, one feel word, with the times of the slot filled in already."""

import uuid
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.errors import NotFound, Refusal
from fleet.events.models import Entry, Layout
from fleet.events.queries import entries_for, slots_for, tracks
from fleet.garage.models import Instrument, Rider, WheelPair
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, LocalTimeField, MeasuredField, PlainForm
from fleet.pages.garage import own_gauge, rider_of
from fleet.pages.units import Unit, distance, distance_unit, pressure_unit, temperature_unit
from fleet.pressures.queries import own_lines
from fleet.running.actions import log_stint
from fleet.running.models import FeelNote, Stint

LOOK_BACK: Final = timedelta(days=7)
ROAD: Final = "road"
COUNT: Final = Unit("laps", 0, 1.0, float, float)
MINUTES: Final = Unit("min", 0, 1.0, float, float)
EFFORTS: Final = (
    ("", "Not noted"), ("1", "Full pace"), ("0.9", "Nine tenths"), ("0.8", "Eight tenths"), ("0.6", "Easy laps"),
)  # fmt: skip


class Where:
    """The places a stint can have been on: event days entered, layouts of tracks, the road."""

    def __init__(self, by: Person, pair: WheelPair, at: datetime) -> None:
        recent = entries_for(by).filter(
            bike=pair.bike,
            day__date__gte=(at - LOOK_BACK).date(),
            day__date__lte=(at + timedelta(days=1)).date(),
        )
        rows = recent.select_related("day__layout__track", "day__event", "group").order_by("-day__date")
        self.entries: list[Entry] = [entry for entry in rows if _has_come(entry, at)]
        self.layouts: list[Layout] = [layout for track in tracks() for layout in track.layouts.all()]

    @property
    def choices(self) -> list[tuple[str, str]]:
        """Return what the rider chooses from."""
        days = [(f"day:{entry.day_id}", f"{entry.day}, {entry.day.layout}") for entry in self.entries]
        layouts = [(f"layout:{layout.pk}", f"{layout}, outside an event") for layout in self.layouts]
        return [*days, *layouts, (ROAD, "On the road")]

    @property
    def zone(self) -> str:
        """Return the time zone the form's clock shows."""
        return self.entries[0].day.layout.track.time_zone if self.entries else "UTC"

    def of(self, choice: str) -> dict[str, Any]:
        """Return the keywords of the action for a choice."""
        kind, _, pk = choice.partition(":")
        if kind == "day":
            return {"day": next(entry.day for entry in self.entries if str(entry.day_id) == pk)}
        if kind == "layout":
            return {"layout": next(layout for layout in self.layouts if str(layout.pk) == pk)}
        return {}

    def zone_of(self, choice: str) -> str:
        """Return the time zone of a choice."""
        found = self.of(choice)
        layout = found["day"].layout if "day" in found else found.get("layout")
        return layout.track.time_zone if layout else self.zone


class StintForm(PlainForm):
    """What a rider knows when coming in."""

    def __init__(
        self, *args: Any, person: Person, where: Where, gauge: Instrument | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.where, self.unit = where, pressure_unit(person)
        unit, warm = self.unit, temperature_unit(person)
        on = f", on {gauge.name}" if gauge else ""
        self.take(
            front_in_kpa=_pressure("Front, hot", unit),
            rear_in_kpa=_pressure("Rear, hot", unit),
            minutes_since_in=MeasuredField(
                unit=MINUTES, low=0, high=240, label="Read how long after coming in", required=False,
                help_text=f"0 when read at once{on}.",
            ),
            laps=MeasuredField(unit=COUNT, low=1, high=400, label="Laps", required=False),
            feel=forms.ChoiceField(
                label="How it felt, in one word", choices=FeelNote.Feel.choices, required=False,
                widget=forms.RadioSelect,
            ),
            started_at=LocalTimeField(zone=where.zone, label="Out at", help_text=f"The track's clock, {where.zone}."),
            ended_at=LocalTimeField(zone=where.zone, label="In at"),
            place=forms.ChoiceField(label="Where", choices=where.choices),
            distance_km=MeasuredField(
                unit=distance_unit(person), low=0.1, high=2000, label="Distance", required=False,
                help_text="Needed on the road; on a track the laps tell it.",
            ),
            front_set_kpa=_pressure("Front, as set", unit),
            rear_set_kpa=_pressure("Rear, as set", unit),
            warmers_c=MeasuredField(unit=warm, low=30, high=120, label="Warmers", required=False),
            effort=forms.TypedChoiceField(
                label="How hard", choices=EFFORTS, required=False, coerce=float, empty_value=None
            ),
            key=KeyField(),
        )  # fmt: skip

    def expect(self, targets_kpa: dict[str, float]) -> None:
        """Show the hot target of each axle as the number its buttons count from."""
        for axle, target_kpa in targets_kpa.items():
            field = self.fields[f"{axle}_in_kpa"]
            field.widget.attrs["placeholder"] = self.unit.figure(target_kpa)

    def clean(self) -> dict[str, Any]:
        """Return what was said in the action's words, the times on the clock of the chosen track."""
        said = super().clean() or self.cleaned_data
        if choice := said.get("place"):
            zone = ZoneInfo(self.where.zone_of(choice))
            for name in ("started_at", "ended_at"):
                if said.get(name):
                    said[name] = said[name].replace(tzinfo=zone)
        return said


@require_http_methods(["GET", "POST"])
def stint(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the form for one wheel pair, and store what it says."""
    by = person_of(request)
    rider = rider_of(by)
    pair = _pair(rider, pk)
    at = timezone.now()
    gauge = own_gauge(rider)
    where = Where(by, pair, at)
    form = StintForm(
        request.POST or None, person=by, where=where, gauge=gauge, initial=_usual(by, pair, where, at)
    )
    form.expect(_targets(rider, pair, where, gauge))
    if request.method == "POST" and form.is_valid():
        try:
            stored = _store(by, at, pair, gauge, where, form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Stint stored: {distance(stored.distance_km, by)}{_laps(stored)}.")
            for reading in stored.pressures.exclude(doubt="").filter(voided_at__isnull=True):
                messages.warning(request, f"Kept, and marked doubtful: {reading.doubt}")
            return redirect("garage")
    context = {
        "place": "garage", "pair": pair, "form": form, "gauge": gauge,
        "more_open": any(form[name].errors for name in ("front_set_kpa", "rear_set_kpa", "warmers_c", "effort")),
    }  # fmt: skip
    return render(request, "pages/stint.html", context, status=422 if form.errors else 200)


def _targets(rider: Rider, pair: WheelPair, where: Where, gauge: Instrument | None) -> dict[str, float]:
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    if not where.entries or not pair.is_in_use:
        return {}
    entry = where.entries[0]
    return {
        line.axle: line.hot_target_kpa + offset_kpa
        for line in own_lines(rider, entry.day)
        if line.entry_id == entry.pk
    }


def _pressure(label: str, unit: Unit) -> MeasuredField:
    return MeasuredField(unit=unit, low=50, high=700, label=label, required=False)


def _pair(rider: Rider, pk: uuid.UUID) -> WheelPair:
    pair = WheelPair.objects.filter(pk=pk, bike__rider=rider).select_related("bike__rider").first()
    if pair is None:
        raise NotFound("There are no such wheels in your garage: choose them there.")
    return pair


def _has_come(entry: Entry, at: datetime) -> bool:
    return entry.day.date <= at.astimezone(ZoneInfo(entry.day.layout.track.time_zone)).date()


def _usual(by: Person, pair: WheelPair, where: Where, at: datetime) -> dict[str, Any]:
    usual: dict[str, Any] = {"minutes_since_in": 0, "place": where.choices[0][0]}
    if not where.entries:
        return usual
    entry = where.entries[0]
    last = (
        slots_for(by)
        .filter(day=entry.day, group=entry.group, starts_at__lte=at)
        .order_by("-starts_at")
        .first()
    )
    if last is None:
        return usual
    taken = Stint.objects.standing().filter(
        wheel_pair=pair, started_at__lt=last.ends_at, ended_at__gt=last.starts_at
    )
    if taken.exists():
        return usual
    return usual | {"started_at": last.starts_at, "ended_at": min(last.ends_at, at)}


def _store(
    by: Person, at: datetime, pair: WheelPair, gauge: Instrument | None, where: Where, said: dict[str, Any]
) -> Stint:
    facts = {name: value for name, value in said.items() if name != "place"}
    facts["laps"] = int(facts["laps"]) if facts["laps"] else None
    facts["minutes_since_in"] = facts["minutes_since_in"] or 0.0
    return log_stint(by=by, at=at, wheel_pair=pair, instrument=gauge, **where.of(said["place"]), **facts)


def _laps(stored: Stint) -> str:
    return f" in {stored.laps} laps" if stored.laps else ""
