"""A day at the event desk: weather, bulletin in force, draft, and who rides on tires near their end."""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Exists
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right
from fleet.errors import NotFound, Refusal
from fleet.events.models import Day, Entry
from fleet.events.queries import conditions_for, conditions_in_force, entrants_for, entries_for
from fleet.life.models import State
from fleet.life.queries import MountedTire, sets_of
from fleet.pages.asking import person_of
from fleet.pages.desk import desk_day, is_over, rights_on
from fleet.pages.draft_table import heads_of, tables_of
from fleet.pages.forms import PlainForm
from fleet.pressures.actions import draft_day, issue_bulletin, withdraw_bulletin
from fleet.pressures.errors import OutOfDate
from fleet.pressures.followed import as_drafted
from fleet.pressures.models import Bulletin, Guidance
from fleet.pressures.overrides import mark_of_overrides
from fleet.pressures.queries import board_lines, bulletin_in_force, bulletins_for, guidance_for

NEAR_END = (State.PLAN_A_CHANGE, State.LAST_DAY, State.STAND_DOWN)
ASKED = (
    Right.EDIT_EVENT,
    Right.DRAFT_BULLETIN,
    Right.ISSUE_BULLETIN,
    Right.READ_GUIDANCE,
    Right.READ_ENTRANTS,
    Right.READ_ENTRANT_PRESSURES,
)


class IssueForm(PlainForm):
    """Issues exactly the draft that was looked at."""

    guidance = forms.UUIDField(widget=forms.HiddenInput, label="")
    by_hand = forms.CharField(widget=forms.HiddenInput, label="", required=False, max_length=16)


class ReasonForm(PlainForm):
    """Asks why."""

    reason = forms.CharField(label="What was wrong", max_length=300, widget=forms.TextInput)


@dataclass(frozen=True)
class NearEnd:
    """An entrant's tire that needs a look, with the number on the bike."""

    entry: Entry
    mounted: MountedTire

    @property
    def urgency(self) -> int:
        """Return how soon somebody must look: a hold first, then the states from their end."""
        if self.mounted.is_on_hold or self.mounted.assessment is None:
            return len(NEAR_END)
        return NEAR_END.index(State(self.mounted.assessment.state))


@require_safe
def day(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show a day."""
    by = person_of(request)
    return _show(request, by, desk_day(by, pk))


@require_POST
def draft(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Compute the draft now."""
    by = person_of(request)
    row = desk_day(by, pk)
    form = PlainForm(request.POST)
    form.is_valid()
    try:
        draft_day(by=by, at=timezone.now(), day=row)
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, row, form=form)
    messages.success(request, "The draft is computed from what is known now.")
    return redirect("day", pk)


@require_POST
def issue(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Issue the draft that was looked at as the next bulletin."""
    by = person_of(request)
    row = desk_day(by, pk)
    form = IssueForm(request.POST)
    if not form.is_valid():
        return _show(request, by, row, form=form)
    try:
        seen = Guidance.objects.filter(day=row, pk=form.cleaned_data["guidance"]).first()
        if seen is None:
            raise OutOfDate("The draft changed since you looked at it: read the new one, then issue that.")
        mark = form.cleaned_data["by_hand"] or None
        bulletin = issue_bulletin(by=by, at=timezone.now(), day=row, guidance=seen, overrides_seen=mark)
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, row, form=form)
    messages.success(
        request, f"Bulletin {bulletin.number} is issued. Entered riders with an account are told."
    )
    return redirect("day", pk)


@require_POST
def withdraw(request: HttpRequest, pk: uuid.UUID, number: int) -> HttpResponse:
    """Take a bulletin back with a reason."""
    by = person_of(request)
    row = desk_day(by, pk)
    bulletin = bulletins_for(by).filter(day=row, number=number).first()
    if bulletin is None:
        raise NotFound(f"This day has no bulletin {number}: look at the list of its bulletins.")
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return _show(request, by, row, form=form)
    try:
        withdraw_bulletin(by=by, at=timezone.now(), bulletin=bulletin, reason=form.cleaned_data["reason"])
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, row, form=form)
    messages.success(request, f"Bulletin {number} is withdrawn; its public page says so with your reason.")
    return redirect("day", pk)


@dataclass(frozen=True)
class LookAt:
    """What the gate must look at: the tires near their end, and how many bikes of those entered nothing is known of."""

    tires: list[NearEnd]
    entered: int
    unlogged: int


def near_end(by: Person, row: Day, at: datetime) -> LookAt:
    """Return the entrants' tires near their end or on hold, the most urgent first."""
    entries = list(entries_for(by).filter(day=row, rider__in=entrants_for(by, on=at.date())))
    by_bike = {entry.bike_id: entry for entry in entries}
    mounted = [
        (by_bike[view.wheel_pair.bike_id], tire)
        for view in sets_of([entry.rider for entry in entries])
        if view.wheel_pair.bike_id in by_bike
        for tire in view.tires.values()
    ]
    found = [
        NearEnd(entry, tire)
        for entry, tire in mounted
        if tire.is_on_hold or (tire.assessment and tire.assessment.state in NEAR_END)
    ]
    found.sort(key=lambda one: (-one.urgency, one.entry.number.zfill(6), one.mounted.fitting.axle))
    return LookAt(found, len(entries), len(entries) - len({entry.pk for entry, _ in mounted}))


def _show(request: HttpRequest, by: Person, row: Day, *, form: PlainForm | None = None) -> HttpResponse:
    at = timezone.now()
    rights = rights_on(by, row, ASKED)
    guidance = guidance_for(by, row) if rights[Right.READ_GUIDANCE] else None
    context: dict[str, Any] = {
        "place": "desk",
        "day": row,
        "zone": row.layout.track.time_zone,
        "at": at,
        "is_over": is_over(row, at),
        "may": rights,
        "form": form,
        "withdraw_form": form if isinstance(form, ReasonForm) else ReasonForm(),
        "in_force": bulletin_in_force(row),
        "bulletins": list(bulletins_for(by).filter(day=row).order_by("-number")),
        "weather": conditions_in_force(row, at=at),
        "reports": list(conditions_for(by).filter(day=row, voided_at__isnull=True)),
        "near_end": near_end(by, row, at) if rights[Right.READ_ENTRANTS] else None,
        **_draft_context(guidance, row.layout.track.time_zone),
    }
    context["undone"] = rights[Right.EDIT_EVENT] and not context["is_over"] and _undone(row)
    context["next_number"] = max((one.number for one in context["bulletins"]), default=0) + 1
    return render(request, "pages/day.html", context, status=422 if form is not None else 200)


def _undone(row: Day) -> dict[str, Any]:
    """Return what of the day's plan is missing; nothing where all of it is there."""
    missing: dict[str, Any] = Day.objects.filter(pk=row.pk).values(  # type: ignore[assignment]  # the stubs know its keys
        groups=~Exists(row.event.groups.all()),
        times=~Exists(row.slots.all()),
        riders=~Exists(row.entries.all()),
    )[0]
    return missing if any(missing.values()) else {}


def _draft_context(guidance: Guidance | None, zone: str) -> dict[str, Any]:
    if guidance is None:
        return {"guidance": None, "lines": [], "heads": [], "issued_as": None}
    lines = as_drafted(board_lines(guidance))
    heads = heads_of(guidance.parts.select_related("conditions"), zone)
    return {
        "guidance": guidance,
        "lines": lines,
        "heads": heads,
        "tables": tables_of(lines, heads),
        "by_hand_mark": mark_of_overrides(guidance),
        "issued_as": Bulletin.objects.filter(guidance=guidance).order_by("-number").first(),
    }
