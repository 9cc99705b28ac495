"""The times on track of a day: typed, pasted or taken from another day, looked at, then set."""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, require
from fleet.errors import Refusal
from fleet.events.actions import change_of, set_timetable, timetable_text
from fleet.events.models import Day
from fleet.events.queries import by_pace
from fleet.events.timetable import Timetable, read_timetable
from fleet.pages.asking import person_of, typed
from fleet.pages.desk import desk_day, desk_days
from fleet.pages.forms import PlainForm

MOST_DAYS_OFFERED = 40


class TimetableForm(PlainForm):
    """The times as text, with the revision of the day that was looked at."""

    text = forms.CharField(
        label="Times on track",
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 14, "spellcheck": "false", "autocapitalize": "words"}),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, label="", required=False)


@dataclass(frozen=True)
class Row:
    """One time on track as it would stand, and what setting it does."""

    starts_at: datetime
    ends_at: datetime
    group: str
    does: str


@require_http_methods(["GET", "HEAD", "POST"])
def timetable(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show a day's times as text, show what a changed text would do, and set it."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    if request.method != "POST":
        return _show(request, by, day, TimetableForm(initial={"text": _text_asked_for(request, by, day)}))
    form = TimetableForm(request.POST)
    if not form.is_valid():
        return _show(request, by, day, form)
    read = read_timetable(form.cleaned_data["text"], day=day, groups=list(by_pace(day.event.groups.all())))
    if "set" in request.POST and not read.faults:
        try:
            change = set_timetable(
                by=by, day=day, planned=read.slots, seen_revision=form.cleaned_data["seen"]
            )
        except Refusal as refusal:
            form.refuse(refusal)
            day.refresh_from_db()
        else:
            said = "stay as they were" if change.is_nothing else "are set; the draft follows by itself"
            messages.success(request, f"The times on track {said}.")
            return redirect("day", pk)
    return _show(request, by, day, form, read=read)


def _text_asked_for(request: HttpRequest, by: Person, day: Day) -> str:
    """Return the text of another day that was chosen to begin with, or of this one."""
    wanted = typed(request.GET, "like")
    try:
        other = desk_days(by).filter(pk=uuid.UUID(wanted)).first() if wanted else None
    except ValueError:
        other = None
    return timetable_text(other or day)


def _show(
    request: HttpRequest, by: Person, day: Day, form: TimetableForm, *, read: Timetable | None = None
) -> HttpResponse:
    others = desk_days(by).filter(slots__isnull=False).exclude(pk=day.pk).distinct().order_by("-date", "id")
    context: dict[str, Any] = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "groups": list(by_pace(day.event.groups.all())),
        "others": others[:MOST_DAYS_OFFERED],
        "form": form,
        "read": read,
        "revision": day.revision,
    }
    if read is not None:
        context |= _preview(day, read)
        lines = form.cleaned_data["text"].splitlines()
        context["faults"] = [
            (fault, lines[fault.line - 1].strip() if 0 < fault.line <= len(lines) else "")
            for fault in read.faults
        ]
    else:
        context["set_now"] = day.slots.select_related("group").order_by("starts_at", "ends_at", "group__name")
    is_refused = bool(form.errors or (read and read.faults))
    return render(request, "pages/timetable.html", context, status=422 if is_refused else 200)


def _preview(day: Day, read: Timetable) -> dict[str, Any]:
    change = change_of(day, read.slots)
    new = {(one.group.pk, one.starts_at) for one in change.new}
    other_end = {(slot.group_id, slot.starts_at): slot.ends_at for slot, _ in change.longer_or_shorter}
    rows = []
    for one in read.slots:
        key = (one.group.pk, one.starts_at)
        does = "new" if key in new else "other end" if key in other_end else "as it is"
        rows.append(Row(one.starts_at, one.ends_at, one.group.name, does))
    rows += [Row(slot.starts_at, slot.ends_at, slot.group.name, "goes") for slot in change.gone]
    return {
        "rows": sorted(rows, key=lambda row: (row.starts_at, row.group)),
        "change": change,
        "is_ready": not read.faults,
    }
