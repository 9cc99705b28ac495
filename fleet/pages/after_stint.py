"""After a stint: the pressures against their targets, the one change to try next, and what came of the last one."""

import uuid
from dataclasses import dataclass
from math import isnan
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.catalogue.models import AXLES, Axle
from fleet.errors import NotFound
from fleet.garage.models import Instrument, Rider
from fleet.life.queries import MountedTire, sets_of
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, PlainForm
from fleet.pages.garage import own_gauge, rider_of
from fleet.pages.units import pressure_unit
from fleet.pressures.advice import Advice, EndOfStint, advise
from fleet.running.actions import answer_advice
from fleet.running.comparing import laps_compared
from fleet.running.models import AdviceAnswer, Stint

HEADLINES: Final = {
    "stand down": "Stay in: the {axle} tire must not go out",
    "range": "Bring the {axle} start pressure back into the range of the tire",
    "damping": "One click of damping at the {axle}, before any pressure",
    "heat": "Change the heat in the {axle} tire, not its pressure",
    "measure": "Measure before anything is changed",
    "leave it": "Leave it as it is",
}
SURENESS: Final = {"firm": "Firm", "fair": "Fair", "weak": "Weak"}


@dataclass(frozen=True)
class EndView:
    """One tire after a stint, its pressures as the rider's own gauge shows them; nothing where not read."""

    end: EndOfStint
    set_kpa: float | None
    read_kpa: float | None
    hot_kpa: float | None
    target_kpa: float | None
    off_kpa: float | None

    @property
    def minutes(self) -> str:
        """Return how long after coming in the hot pressure was read."""
        count = round(self.end.minutes_late)
        return "under a minute" if count < 1 else f"{count} minute{'s' if count > 1 else ''}"


class AnswerForm(PlainForm):
    """What the rider says of an advised change, with what was advised."""

    advised = forms.ChoiceField(choices=AdviceAnswer.Advised.choices, widget=forms.HiddenInput)
    axle = forms.ChoiceField(choices=[("", ""), *Axle.choices], required=False, widget=forms.HiddenInput)
    change_kpa = forms.FloatField(required=False, min_value=-100, max_value=100, widget=forms.HiddenInput)
    answer = forms.ChoiceField(choices=AdviceAnswer.Answer.choices)
    shown_on = forms.UUIDField(required=False, widget=forms.HiddenInput)
    key = KeyField()


@require_safe
def after_stint(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show what a stint did and what to try next."""
    by = person_of(request)
    rider = rider_of(by)
    stint = _stint(rider, pk)
    gauge = own_gauge(rider)
    found = advise(stint, gauge=gauge)
    before, after = _neighbors(stint)
    answers = _answers(one for one in (stint, before) if one)
    said = answers.get((before.pk, True)) if before else None
    context = {
        "place": "garage",
        "stint": stint,
        "gauge": gauge,
        "zone": stint.layout.track.time_zone if stint.layout else "UTC",
        "ends": [_shown(end, gauge) for end in found.ends],
        "suggestion": found.suggestion,
        "headline": headline_of(found, by),
        "sureness": SURENESS[found.suggestion.confidence] if found.suggestion else "",
        "stopped": _stopped(found, rider),
        "set_now_kpa": _known(found.suggestion.start_kpa) if found.suggestion else None,
        "answered": answers.get((stint.pk, True)),
        "followed": after,
        "new_key": uuid.uuid4(),
        "outcome_key": uuid.uuid4(),
        "before": before,
        "said": said,
        "said_words": _change_words(said, by) if said else "",
        "outcome": answers.get((before.pk, False)) if before else None,
        "comparison": _comparison(before, stint, gauge) if before else None,
        "laps": laps_compared(before, stint, changes=stint_changes(before, stint)) if before else None,
    }
    return render(request, "pages/after_stint.html", context)


@require_POST
def answer(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Store what the rider says of the advice after a stint; the page it was said on is shown again."""
    by = person_of(request)
    stint = _stint(rider_of(by), pk)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        messages.warning(
            request, "That answer could not be read, and nothing was stored: choose one of those shown."
        )
    else:
        said = {name: value for name, value in form.cleaned_data.items() if name != "shown_on"}
        answer_advice(by=by, at=timezone.now(), stint=stint, **said)
        messages.success(request, "Noted.")
    shown_on = form.cleaned_data.get("shown_on")
    own = _of(stint.wheel_pair.bike.rider).filter(pk=shown_on).first() if shown_on else None
    return redirect("after-stint", own.pk if own else stint.pk)


def stint_changes(before: Stint, stint: Stint) -> int:
    """Return how many things were changed on the bike between two stints."""
    return int(
        stint.wheel_pair.adjustments.filter(
            made_at__gt=before.started_at, made_at__lte=stint.started_at, voided_at__isnull=True
        ).count()
    )


def _of(rider: Rider) -> QuerySet[Stint]:
    return Stint.objects.filter(wheel_pair__bike__rider=rider, voided_at__isnull=True).select_related(
        "wheel_pair__bike__rider__person", "day__layout__track", "day__event", "layout__track"
    )


def _stint(rider: Rider, pk: uuid.UUID) -> Stint:
    stint = _of(rider).filter(pk=pk).first()
    if stint is None:
        raise NotFound("There is no such stint of yours: choose one in your garage.")
    return stint


def _neighbors(stint: Stint) -> tuple[Stint | None, Stint | None]:
    """Return the stints of the same wheels on the same day right before and after one."""
    rows = _of(stint.wheel_pair.bike.rider).filter(wheel_pair=stint.wheel_pair_id, day=stint.day_id)
    if stint.day_id is None:
        rows = rows.filter(started_at__date=stint.started_at.date())
    return (
        rows.filter(started_at__lt=stint.started_at).order_by("-started_at", "id").first(),
        rows.filter(started_at__gt=stint.started_at).order_by("started_at", "id").first(),
    )


def _stopped(found: Advice, rider: Rider) -> list[tuple[str, MountedTire]]:
    """Return the tires of a stint that must not go out, where that is the advice, with what stops them."""
    if found.suggestion is None or found.suggestion.kind != "stand down":
        return []
    ridden = {end.tire.pk: end.axle for end in found.ends}
    return [
        (ridden[mounted.fitting.tire_id], mounted)
        for view in sets_of([rider], only_in_use=False)
        for mounted in view.tires.values()
        if mounted.is_stopped and mounted.fitting.tire_id in ridden
    ]


def _answers(stints: Any) -> dict[tuple[uuid.UUID, bool], AdviceAnswer]:
    """Return by stint the newest answer whether it was done (true), and what came of it (false)."""
    done = (AdviceAnswer.Answer.DONE, AdviceAnswer.Answer.NOT_DONE)
    rows = AdviceAnswer.objects.filter(stint__in=list(stints), voided_at__isnull=True)
    return {(row.stint_id, row.answer in done): row for row in rows.order_by("recorded_at", "id")}


def _shown(end: EndOfStint, gauge: Instrument | None) -> EndView:
    offset_kpa = gauge.offset_kpa if gauge else 0.0

    def on_gauge(kpa: float) -> float | None:
        return None if isnan(kpa) else kpa + offset_kpa

    return EndView(
        end=end,
        set_kpa=on_gauge(end.set_kpa),
        read_kpa=on_gauge(end.read_kpa),
        hot_kpa=on_gauge(end.hot_kpa),
        target_kpa=on_gauge(end.target_kpa),
        off_kpa=_known(end.off_kpa),
    )


def _known(value: float) -> float | None:
    return None if isnan(value) else value


def headline_of(found: Advice, by: Any) -> str:
    """Return the change advised in a few words, in the reader's units."""
    suggestion = found.suggestion
    if suggestion is None:
        return ""
    if suggestion.kind == "pressure":
        return _pressure_words(suggestion.axle, suggestion.change_kpa, by)
    return HEADLINES[suggestion.kind].format(axle=suggestion.axle or "bike's")


def _change_words(said: AdviceAnswer, by: Any) -> str:
    if said.advised == AdviceAnswer.Advised.PRESSURE and said.change_kpa is not None:
        return _pressure_words(said.axle, said.change_kpa, by)
    return HEADLINES[said.advised].format(axle=said.axle or "bike's")


def _pressure_words(axle: str, change_kpa: float, by: Any) -> str:
    unit = pressure_unit(by)
    more = "more" if change_kpa > 0 else "less"
    return f"{axle.title()}: start with {unit.figure(abs(change_kpa))} {unit.sign} {more}"


def _comparison(before: Stint, stint: Stint, gauge: Instrument | None) -> dict[str, Any]:
    """Return two stints side by side: pressures on the rider's gauge by axle and moment, laps, best lap, feel."""
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    read: list[dict[tuple[str, bool], float]] = []
    feels = []
    for one in (before, stint):
        rows = (
            one.pressures.filter(voided_at__isnull=True)
            .select_related("tire__spec")
            .order_by("taken_at", "id")
        )
        read.append(
            {(row.tire.spec.axle, row.moment == "set"): row.pressure_kpa + offset_kpa for row in rows}
        )
        notes = one.feel_notes.filter(voided_at__isnull=True).order_by("recorded_at", "id")
        feels.append(", ".join(note.get_feel_display() for note in notes))
    return {
        "stints": (before, stint),
        "pressures": [
            (f"{axle.title()}, {word}", [side.get((axle, was_set)) for side in read])
            for axle in AXLES
            for word, was_set in (("set", True), ("hot", False))
        ],
        "best_s": [min(one.lap_times_s, default=None) for one in (before, stint)],
        "feels": feels,
    }
