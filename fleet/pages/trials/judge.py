"""What the runs tell: laps, wear, pressure growth and feel of both sets side by side, and the tester's verdict."""

import uuid
from collections import Counter
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.errors import Refusal
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.pages.trials.drawings import LapRow
from fleet.pages.trials.measure import zone_of
from fleet.pages.trials.reaching import about, test_run_by, test_seen
from fleet.running.models import SurfaceNote
from fleet.trials.actions import end_test, judge_test
from fleet.trials.following import came_off_at, followed_of
from fleet.trials.log import Ridden, ridden_of
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import TireSet, sets_of
from fleet.trials.verdicts import Judged, judged_laps, wear_of_set


def _day(label: str) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


class VerdictForm(PlainForm):
    """The verdict in the tester's own words."""

    verdict = forms.CharField(
        label="Your verdict", max_length=1500, widget=forms.Textarea(attrs={"rows": 6}),
        help_text="In your own words, apart from what was measured: what would you tell a customer?",
    )  # fmt: skip
    judged_on = _day("Day of the verdict")


class EndForm(PlainForm):
    """The end of a test whose set was removed."""

    ended_on = _day("Set removed, or followed no longer, on")
    final_remark = forms.CharField(
        label="Final remark", max_length=600, required=False, widget=forms.Textarea(attrs={"rows": 4})
    )


@require_http_methods(["GET", "HEAD", "POST"])
def judge(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show what was measured side by side, and store the verdict or the end."""
    by = person_of(request)
    test = test_run_by(by, pk) if request.method == "POST" else test_seen(by, pk)
    today = timezone.now().date()
    found = about(request, test)
    if found["is_open"]:
        found |= told(test)
    off = came_off_at(found.get("followed", ()))
    sent = request.POST if request.method == "POST" else None
    ends = sent is not None and "ended_on" in sent
    verdict = VerdictForm(
        None if ends else sent, initial={"verdict": test.verdict, "judged_on": test.judged_on or today}
    )
    end = EndForm(
        sent if ends else None,
        initial={
            "ended_on": test.ended_on or (off.astimezone(ZoneInfo(zone_of(test))).date() if off else today),
            "final_remark": test.final_remark,
        },
    )
    form = end if ends else verdict
    if sent is not None and form.is_valid():
        try:
            (end_test if ends else judge_test)(by=by, test=test, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The test is finished." if ends else "The verdict is stored.")
            return redirect("judge", test.pk)
    context = found | {"form": form, "verdict_form": verdict, "end_form": end, "came_off": off}
    return render(request, "pages/trials/judge.html", context, status=422 if form.errors else 200)


def told(test: TireTest) -> dict[str, Any]:
    """Return what the runs of a test tell, as the page and the report show it."""
    ridden = ridden_of(test)
    sets = sets_of(test)
    laps = judged_laps(test, ridden)
    return {
        "zone": zone_of(test),
        "laps": laps,
        "lap_rows": [_lap_row(one) for one in laps.runs],
        "followed": followed_of(test),
        "wear": [(Side(side), wear_of_set(one)) for side, one in sets.items()],
        "growth": [(one.run, one.growth_kpa) for one in ridden if one.growth_kpa],
        "feel": [(side, _felt(ridden, side)) for side in Side],
        "surface": [(side, seen_on(sets[side.value])) for side in Side],
        "ridden": ridden,
        "lacks": _lacks(ridden, laps.runs),
    }


def _lap_row(one: Judged) -> LapRow:
    kept = set(one.laps.lap.tolist())
    times = [
        (seconds, number in kept) for number, seconds in enumerate(one.ridden.stint.lap_times_s, start=1)
    ]
    side = one.ridden.run.side
    return LapRow(side, times, one.laps.median_s, is_baseline=side == Side.BASELINE)


def _felt(ridden: list[Ridden], side: Side) -> list[tuple[str, int]]:
    """Return each expression with its phase and how often it was noted, the most frequent first."""
    said = Counter(
        note.get_feel_display() + (f", {note.get_phase_display().lower()}" if note.phase else "")
        for one in ridden
        if one.run.side == side
        for note in one.feels
    )
    return sorted(said.items(), key=lambda item: (-item[1], item[0]))


def seen_on(tire_set: TireSet) -> list[tuple[str, SurfaceNote]]:
    """Return what was seen on the treads of a set, each with its axle."""
    axle_of = {one.tire_id: axle for axle, one in tire_set.fittings.items()}
    rows = SurfaceNote.objects.filter(tire__in=axle_of, voided_at__isnull=True).order_by("seen_at", "id")
    return [(axle_of[row.tire_id], row) for row in rows]


def _lacks(ridden: list[Ridden], runs: list[Judged]) -> list[str]:
    """Return what is missing before the laps can tell anything, in plain words."""
    timed = {one.ridden.run.side for one in runs}
    found = [
        f"No consistency run with lap times on the {side.label.lower()} set: nothing can be compared."
        for side in Side
        if side.value not in timed
    ]
    if ridden and not any(one.growth_kpa for one in ridden):
        found.append("No run has pressures both as set and hot: how they grow is not known.")
    return found
