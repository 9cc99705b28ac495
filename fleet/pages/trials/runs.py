"""The runs of a test: which stints count, what was changed between any two, and what was read and felt in each."""

import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.errors import NotFound, Refusal
from fleet.pages.after_stint import SURENESS, headline_of
from fleet.pages.asking import person_of, typed
from fleet.pages.forms import KeyField, PlainForm
from fleet.pages.trials.measure import zone_of
from fleet.pages.trials.reaching import about, test_run_by, test_seen
from fleet.pages.units import short_day_and_clock
from fleet.pressures.advice import advise
from fleet.running.models import Stint
from fleet.running.queries import stints_for
from fleet.trials.actions import add_run, void_run
from fleet.trials.log import Entry, changes_of, log_of
from fleet.trials.models import Run, TireTest
from fleet.trials.queries import side_of

OFFERED: Final = 40


class RunForm(PlainForm):
    """A stint that is to count."""

    def __init__(self, *args: Any, stints: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(
            stint=forms.ChoiceField(label="Stint", choices=list(stints.items())),
            purpose=forms.ChoiceField(
                label="Ridden for",
                choices=Run.Purpose.choices,
                widget=forms.RadioSelect,
                initial="consistency",
            ),
            words=forms.CharField(
                label="Remark",
                max_length=400,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            ),
            key=KeyField(),
        )


@require_http_methods(["GET", "HEAD", "POST"])
def runs(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the log of a test, and let a stint count as a run."""
    by, at = person_of(request), timezone.now()
    test = test_run_by(by, pk) if request.method == "POST" else test_seen(by, pk)
    context = about(request, test)
    entries = log_of(test) if context["is_open"] else []
    offered = offered_stints(by, test, entries) if context["runs_it"] and context["is_open"] else {}
    form = RunForm(request.POST if request.method == "POST" else None, stints=offered)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            stint = stints_for(by).get(pk=said["stint"])
            add_run(
                by=by,
                at=at,
                test=test,
                stint=stint,
                purpose=said["purpose"],
                words=said["words"],
                key=said["key"],
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The stint counts as a run.")
            return redirect("test-runs", test.pk)
    context |= {
        "entries": entries,
        "form": form,
        "has_stints": bool(offered),
        "zone": zone_of(test),
        "next_change": next_change(by, test, entries),
        "between": between(test, entries, typed(request.GET, "first"), typed(request.GET, "second")),
    }
    return render(request, "pages/trials/runs.html", context, status=422 if form.errors else 200)


@require_POST
def void(request: HttpRequest, pk: uuid.UUID, run: uuid.UUID) -> HttpResponse:
    """Let a stint count no longer."""
    by = person_of(request)
    test = test_run_by(by, pk)
    row = test.runs.filter(pk=run).first()
    if row is None:
        raise NotFound("There is no such run in this test: open its runs again.")
    row.test = test
    try:
        void_run(by=by, at=timezone.now(), run=row, reason=typed(request.POST, "reason"))
    except Refusal as refusal:
        messages.warning(request, refusal.sentence)
    else:
        messages.success(request, "The stint counts no longer; it stays in the rider's garage.")
    return redirect("test-runs", test.pk)


def offered_stints(by: Person, test: TireTest, entries: list[Entry]) -> dict[str, str]:
    """Return the newest stints on track on the test's sets that are no runs yet, in words."""
    taken = {entry.ridden.run.stint_id for entry in entries}
    rows = (
        stints_for(by)
        .filter(
            wheel_pair__in={test.baseline_pair_id, test.candidate_pair_id},
            layout__isnull=False,
            voided_at__isnull=True,
        )
        .exclude(pk__in=taken)
    )
    found: dict[str, str] = {}
    for stint in rows[:OFFERED]:
        if side := side_of(test, stint):
            found[str(stint.pk)] = f"{_when(stint)}, {side}, {_laps(stint)}"
    return found


def next_change(by: Person, test: TireTest, entries: list[Entry]) -> dict[str, Any]:
    """Return the one change to try after the newest run; nothing once the test is judged."""
    if not entries or test.judged_on is not None:
        return {}
    found = advise(entries[-1].ridden.stint, gauge=None)
    if found.suggestion is None:
        return {}
    return {
        "headline": headline_of(found, by),
        "suggestion": found.suggestion,
        "sureness": SURENESS[found.suggestion.confidence],
    }


def between(test: TireTest, entries: list[Entry], first: str, second: str) -> dict[str, Any]:
    """Return what was changed between the two runs asked for, in the order they were ridden; by default first and last."""
    ridden = [entry.ridden for entry in entries]
    if len(ridden) < 2:  # noqa: PLR2004 -- between two
        return {}
    by_pk = {str(one.run.pk): place for place, one in enumerate(ridden)}
    one, other = by_pk.get(first, 0), by_pk.get(second, len(ridden) - 1)
    if one == other:
        return {"same": True, "first": ridden[one], "second": ridden[other]}
    early, late = ridden[min(one, other)], ridden[max(one, other)]
    changes = changes_of(test, early, late)
    return {"first": early, "second": late, "changes": changes, "count": len(changes)}


def _when(stint: Stint) -> str:
    zone = stint.layout.track.time_zone if stint.layout else "UTC"
    return short_day_and_clock(stint.started_at, zone)


def _laps(stint: Stint) -> str:
    timed = f"{len(stint.lap_times_s)} timed" if stint.lap_times_s else "not timed"
    return f"{stint.laps} laps, {timed}" if stint.laps else timed
