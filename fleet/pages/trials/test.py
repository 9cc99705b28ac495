"""One tire test: what is asked, which steps are done and come next, and the ways to its other pages."""

import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from fleet.errors import NotFound, Refusal
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.pages.trials.plan import planned
from fleet.pages.trials.reaching import about, test_run_by, test_seen
from fleet.trials.actions import add_step, correct_step, move_step
from fleet.trials.models import Step, TireTest
from fleet.trials.queries import sets_of, stages_of

STAGES: Final = {
    "planned": "planned",
    "running": "running",
    "followed": "judged, set still followed",
    "finished": "finished",
}
WAYS: Final = {
    Step.What.MEASURE_BEFORE: ("measure-set", "baseline"),
    Step.What.MEASURE_AFTER: ("measure-set", "candidate"),
    Step.What.BASELINE_RUN: ("test-runs",),
    Step.What.START_PRESSURE: ("start-pressures",),
    Step.What.SCRUB_IN: ("test-runs",),
    Step.What.SETTLE: ("test-runs",),
    Step.What.ONE_CHANGE: ("test-runs",),
    Step.What.CONSISTENCY: ("test-runs",),
    Step.What.BACK: ("test-runs",),
}
"""Where a step is done: the page and its further part."""


class StepForm(PlainForm):
    """One more step."""

    words = forms.CharField(
        label="Another step", max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )


@require_safe
def tire_test(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show a test."""
    test = test_seen(person_of(request), pk)
    return _page(request, test, StepForm())


@require_POST
def add(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Add a step of one's own words at the end."""
    by = person_of(request)
    test = test_run_by(by, pk)
    form = StepForm(request.POST)
    if form.is_valid():
        try:
            add_step(by=by, test=test, words=form.cleaned_data["words"])
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            return redirect(reverse("tire-test", args=[test.pk]) + "#steps")
    return _page(request, test, form)


@require_POST
def change(request: HttpRequest, pk: uuid.UUID, step: uuid.UUID) -> HttpResponse:
    """Mark a step as done, skipped or to do, or move it in the order."""
    by = person_of(request)
    test = test_run_by(by, pk)
    row = test.steps.filter(pk=step).first()
    if row is None:
        raise NotFound("There is no such step in this test: open the test again.")
    row.test = test
    said = request.POST.get("do", "")
    if said in {"earlier", "later"}:
        move_step(by=by, step=row, earlier=said == "earlier")
    elif said in Step.State.values:
        correct_step(by=by, step=row, state=said)
    else:
        messages.warning(request, "Nothing was changed: press one of the buttons beside the step.")
    return redirect(reverse("tire-test", args=[test.pk]) + "#steps")


def _page(request: HttpRequest, test: TireTest, form: StepForm) -> HttpResponse:
    steps = list(test.steps.order_by("position", "id"))
    next_step = next((step for step in steps if step.state == Step.State.OPEN), None)
    sets = sets_of(test) if about(request, test)["is_open"] else {}
    context: dict[str, Any] = about(request, test) | {
        "stage": STAGES[stages_of([test])[test.pk]],
        "planned": planned(test),
        "steps": [(step, _way(test, step)) for step in steps],
        "next_step": next_step,
        "next_way": _way(test, next_step) if next_step else "",
        "missing": [one.side for one in sets.values() if not one.is_whole],
        "form": form,
    }
    return render(request, "pages/trials/test.html", context, status=422 if form.errors else 200)


def _way(test: TireTest, step: Step) -> str:
    found = WAYS.get(Step.What(step.what))
    return reverse(found[0], args=[test.pk, *found[1:]]) if found else ""
