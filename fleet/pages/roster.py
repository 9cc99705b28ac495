"""Who rides on a day: the roster, one entry of it, and a walk-in entered in one go."""

import uuid
from collections import Counter
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.accounts.policy import Right, may, require
from fleet.errors import NotFound, Refusal
from fleet.events.actions import correct_entry, enter_as, withdraw_entry
from fleet.events.known_riders import KnownRiders, Match
from fleet.events.models import Day, Entry
from fleet.events.queries import by_pace, entries_for
from fleet.pages.asking import person_of
from fleet.pages.desk import desk_day, is_over
from fleet.pages.entering import WARMERS
from fleet.pages.forms import PlainForm


class EntryForm(PlainForm):
    """What may be mended of an entry."""

    number = forms.CharField(
        label="Number on the bike",
        max_length=6,
        widget=forms.TextInput(attrs={"autocomplete": "off", "size": "7"}),
    )
    uses_warmers = forms.ChoiceField(
        label="Tire warmers", choices=WARMERS, widget=forms.RadioSelect, initial="no"
    )

    def __init__(self, *args: Any, day: Day, entry: Entry | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.day, self.entry = day, entry
        self.take(
            group=forms.ModelChoiceField(
                label="Group",
                queryset=by_pace(day.event.groups.all()),
                widget=forms.RadioSelect,
                empty_label=None,
                error_messages={"invalid_choice": "Choose one of this event's groups."},
            )
        )

    def clean_number(self) -> str:
        """Return the number; one that somebody else has is refused with who it is and one that is free."""
        number: str = self.cleaned_data["number"]
        others = self.day.entries.exclude(pk=self.entry.pk) if self.entry else self.day.entries.all()
        holder = others.filter(number__iexact=number).select_related("rider", "bike").first()
        if holder is not None:
            raise forms.ValidationError(
                f"{number} rides already: {holder.rider} on {holder.bike}. Give another number"
                f"{_such_as(number, set(others.values_list('number', flat=True)))}."
            )
        return number

    def given(self) -> dict[str, Any]:
        """Return what was typed as the action's keywords."""
        return {
            "number": self.cleaned_data["number"],
            "group": self.cleaned_data["group"],
            "uses_warmers": self.cleaned_data["uses_warmers"] == "yes",
        }


class WalkInForm(EntryForm):
    """A rider who stands at the desk; ``meant`` says who it is, where the name leaves that open."""

    name = forms.CharField(
        label="Name", max_length=100, widget=forms.TextInput(attrs={"autocomplete": "off", "autofocus": True})
    )
    bike = forms.CharField(
        label="Bike",
        max_length=60,
        required=False,
        help_text="Its class, such as 600 sport. Left empty, the one they rode before.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    contact = forms.CharField(
        label="Contact",
        max_length=120,
        required=False,
        help_text="Phone or e-mail, if they wish.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    meant = forms.CharField(required=False, widget=forms.HiddenInput, label="")
    field_order = ("name", "number", "bike", "group", "uses_warmers", "contact")


@require_safe
def roster(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show who rides."""
    by = person_of(request)
    day = desk_day(by, pk)
    entries = list(entries_for(by).filter(day=day))
    riders = Counter(entry.group_id for entry in entries)
    context = {
        "place": "desk",
        "day": day,
        "entries": entries,
        "counted": [(group, riders[group.pk]) for group in by_pace(day.event.groups.all())]
        if entries
        else [],
        "may_edit": may(by, Right.EDIT_EVENT, day.event.organiser),
        "may_look_up": may(by, Right.READ_ENTRANTS, day.event.organiser),
        "is_over": is_over(day, timezone.now()),
    }
    return render(request, "pages/roster.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def entry(request: HttpRequest, pk: uuid.UUID, entry: uuid.UUID) -> HttpResponse:
    """Show an entry, and mend it."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    row = _entry_of(request, day, entry)
    shown = {
        "number": row.number,
        "group": row.group_id,
        "uses_warmers": "yes" if row.uses_warmers else "no",
    }
    form = EntryForm(request.POST if request.method == "POST" else None, day=day, entry=row, initial=shown)
    if request.method == "POST" and form.is_valid():
        try:
            correct_entry(by=by, entry=row, **form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"The entry of {row.rider} is kept as you see it.")
            return redirect("roster", pk)
    context = {"place": "desk", "day": day, "entry": row, "form": form}
    return render(request, "pages/entry.html", context, status=422 if form.errors else 200)


@require_POST
def take_off(request: HttpRequest, pk: uuid.UUID, entry: uuid.UUID) -> HttpResponse:
    """Take an entry off the day."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    row = _entry_of(request, day, entry)
    withdraw_entry(by=by, entry=row)
    messages.success(request, f"{row.rider} no longer rides with number {row.number}.")
    return redirect("roster", pk)


@require_http_methods(["GET", "HEAD", "POST"])
def walk_in(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Enter somebody who stands at the desk; a name that is known already is asked about before a second one is made."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    form = WalkInForm(request.POST if request.method == "POST" else None, day=day)
    match = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        match = KnownRiders(day).match(name=given["name"], contact=given["contact"], bike=given["bike"])
        if made := _entered(request, day, form, match):
            messages.success(request, f"{made.rider} rides with number {made.number} in {made.group}.")
            return redirect("walk-in", pk)
    choices = match.choices if match and not match.fault and not form.errors else []
    if form.errors or choices:
        form.fields["name"].widget.attrs.pop("autofocus", None)
    context = {
        "place": "desk",
        "day": day,
        "form": form,
        "choices": choices,
        "may_be_new": any(choice.rider is None for choice in choices),
        "has_groups": day.event.groups.exists(),
    }
    is_refused = form.errors or choices
    return render(request, "pages/walk_in.html", context, status=422 if is_refused else 200)


def _entered(request: HttpRequest, day: Day, form: WalkInForm, match: Match) -> Entry | None:
    """Return the entry that was made, or nothing where something is wrong or has to be decided first."""
    given = form.cleaned_data
    if match.fault:
        form.add_error(match.column if match.column in form.fields else "name", match.fault)
        return None
    # The radio buttons beside the form are named as its hidden field, and come last.
    chosen = next((one for one in match.choices if one.value == given["meant"]), None)
    choice = match.choices[0] if match.is_sure else chosen
    if choice is None:
        return None
    if choice.bike and (rides := day.entries.filter(bike=choice.bike).select_related("rider").first()):
        form.add_error(
            "name",
            f"{rides.rider} rides already on {choice.bike}, with number {rides.number}: mend that entry on the roster, or give "
            "another bike.",
        )
        return None
    try:
        return enter_as(
            by=person_of(request),
            day=day,
            choice=choice,
            name=given["name"],
            bike=given["bike"],
            contact=given["contact"],
            **form.given(),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return None


def _such_as(number: str, taken: set[str]) -> str:
    """Return the next free number after one that is taken, as an example."""
    if not number.isdecimal():
        return ""
    free = next((one for one in range(int(number) + 1, int(number) + 1000) if str(one) not in taken), None)
    return f", such as {free}" if free else ""


def _entry_of(request: HttpRequest, day: Day, pk: uuid.UUID) -> Entry:
    found = (
        entries_for(person_of(request)).filter(pk=pk, day=day).select_related("day__event__organiser").first()
    )
    if found is None:
        raise NotFound("There is no such entry on this day: look at the roster.")
    return found
