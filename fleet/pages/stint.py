"""Logging a stint: two hot pressures, laps, one feel word, with the times of the slot filled in already."""

import uuid
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.errors import NotFound, Refusal
from fleet.events.models import Entry, Slot
from fleet.events.queries import slots_for
from fleet.garage.models import Instrument, Rider, WheelPair
from fleet.pages.asking import person_of
from fleet.pages.garage import own_gauge, rider_of
from fleet.pages.stint_doubts import asked, digest
from fleet.pages.stint_form import StintForm
from fleet.pages.stint_places import Where
from fleet.pages.units import distance
from fleet.pressures.queries import own_lines
from fleet.running.actions import log_whole_stint
from fleet.running.errors import Doubtful
from fleet.running.lap_times import as_lap
from fleet.running.models import Stint
from fleet.running.queries import usual_lap_s


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
    targets = _targets(rider, pair, where, gauge, at)
    form.expect(targets)
    doubts: list[tuple[str, str]] = []
    if request.method == "POST" and form.is_valid():
        try:
            stored = _store(by, at, pair, gauge, form, targets)
        except Doubtful as refusal:
            doubts = asked(refusal.doubts, form)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            _say(request, stored)
            return redirect("after-stint", stored.pk)
    context = {
        "place": "garage", "pair": pair, "form": form, "gauge": gauge, "doubts": doubts, "digest": digest(doubts),
    }  # fmt: skip
    return render(request, "pages/stint.html", context, status=422 if form.errors or doubts else 200)


def _targets(
    rider: Rider, pair: WheelPair, where: Where, gauge: Instrument | None, at: datetime
) -> dict[str, float]:
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    if not where.entries or not pair.is_in_use:
        return {}
    entry = where.entries[0]
    return {
        line.axle: line.hot_target_kpa + offset_kpa
        for line in own_lines(rider, entry.day, at=at)
        if line.entry_id == entry.pk
    }


def _pair(rider: Rider, pk: uuid.UUID) -> WheelPair:
    pair = WheelPair.objects.filter(pk=pk, bike__rider=rider).select_related("bike__rider").first()
    if pair is None:
        raise NotFound("There are no such wheels in your garage: choose them there.")
    return pair


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
    ended_at = min(last.ends_at, at)
    laps = _usual_laps(entry, last, ended_at)
    return usual | {"started_at": last.starts_at, "ended_at": ended_at} | ({"laps": laps} if laps else {})


def _usual_laps(entry: Entry, slot: Slot, ended_at: datetime) -> int | None:
    """Return how many laps fit between two moments: by the rider's own stints there, else by the group's usual lap."""
    seconds = (ended_at - slot.starts_at).total_seconds()
    own_s = usual_lap_s(entry.rider, entry.day.layout)
    if own_s is not None:
        return round(seconds / own_s) or None
    group_s = entry.group.usual_lap_s
    return int(seconds // group_s) or None if group_s else None


def _store(
    by: Person,
    at: datetime,
    pair: WheelPair,
    gauge: Instrument | None,
    form: StintForm,
    targets: dict[str, float],
) -> Stint:
    """Store the form whole; values that look wrong are asked about once, and again when others do."""

    def store(*, is_confirmed: bool) -> Stint:
        return log_whole_stint(
            by=by,
            at=at,
            key=form.cleaned_data["key"],
            stint={"wheel_pair": pair, "instrument": gauge, **form.stint()},
            measured=form.measured(),
            targets_kpa=targets,
            is_confirmed=is_confirmed,
        )

    try:
        return store(is_confirmed=False)
    except Doubtful as refusal:
        if form.cleaned_data["confirmed"] != digest(asked(refusal.doubts, form)):
            raise
        return store(is_confirmed=True)


def _say(request: HttpRequest, stored: Stint) -> None:
    by = person_of(request)
    laps = f" in {stored.laps} laps" if stored.laps else ""
    times = stored.lap_times_s
    best = f" {len(times)} lap times, the best {as_lap(min(times))}." if times else ""
    messages.success(request, f"Stint stored: {distance(stored.distance_km, by)}{laps}.{best}")
