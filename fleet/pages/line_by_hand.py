"""One line of a draft set by hand, with its reason: within the spec's range, or beyond it by the director."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, may, require
from fleet.errors import NotFound, Refusal
from fleet.events.models import Day
from fleet.pages.asking import person_of
from fleet.pages.desk import desk_day
from fleet.pages.forms import MeasuredField, PlainForm
from fleet.pages.units import pressure_unit
from fleet.pressures.actions import (
    HIGHEST_KPA,
    LOWEST_KPA,
    set_line_by_hand,
    set_tire_by_hand,
    take_back_override,
)
from fleet.pressures.lines import limits_of
from fleet.pressures.models import GuidanceLine


class LineForm(PlainForm):
    """What is set instead, and why."""

    def __init__(self, *args: Any, person: Person, has_parts: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(
            set_kpa=MeasuredField(
                unit=pressure_unit(person), low=LOWEST_KPA, high=HIGHEST_KPA, label="Set instead"
            ),
            reason=forms.CharField(
                label="Why",
                max_length=300,
                help_text="Kept with the bulletin at the desk; the public page says only that it was set by hand.",
            ),
        )
        if has_parts:
            self.take(is_all_day=forms.BooleanField(label="In every part of the day", required=False))


@require_http_methods(["GET", "HEAD", "POST"])
def line_by_hand(request: HttpRequest, pk: uuid.UUID, line: uuid.UUID) -> HttpResponse:
    """Show a computed line with its range, and put another figure in its place."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.DRAFT_BULLETIN, day.event.organiser)
    row = _line_of(day, line)
    standing = getattr(row, "override", None)
    shown = {
        "set_kpa": standing.set_kpa if standing else row.shown_kpa,
        "reason": standing.reason if standing else "",
    }
    form = LineForm(
        request.POST if request.method == "POST" else None,
        person=by,
        has_parts=bool(row.part.name),
        initial=shown,
    )
    if request.method == "POST" and form.is_valid():
        by_hand = set_tire_by_hand if form.cleaned_data.pop("is_all_day", False) else set_line_by_hand
        try:
            by_hand(by=by, at=timezone.now(), line=row, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{row.spec} in {row.group} is set by hand; the bulletin will say so.")
            return redirect("day", pk)
    lower, upper = limits_of(row.spec)
    context = {
        "place": "desk",
        "day": day,
        "line": row,
        "standing": standing,
        "lower": lower,
        "upper": upper,
        "may_go_beyond": may(by, Right.ISSUE_BULLETIN, day.event.organiser),
        "form": form,
    }
    return render(request, "pages/line_by_hand.html", context, status=422 if form.errors else 200)


@require_POST
def as_computed(request: HttpRequest, pk: uuid.UUID, line: uuid.UUID) -> HttpResponse:
    """Let the computed figure stand again."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.DRAFT_BULLETIN, day.event.organiser)
    row = _line_of(day, line)
    take_back_override(by=by, line=row)
    messages.success(request, f"{row.spec} in {row.group} is as computed again.")
    return redirect("day", pk)


def _line_of(day: Day, pk: uuid.UUID) -> GuidanceLine:
    found = (
        GuidanceLine.objects.filter(pk=pk, guidance__day=day, entry__isnull=True)
        .select_related("guidance__day__event__organiser", "part", "spec__line", "group", "override__made_by")
        .first()
    )
    if found is None:
        raise NotFound(
            "This line is gone: the draft was computed anew. Choose it again from the day's draft."
        )
    return found
