"""Ride at an event: the days that take entries, what an entry opens to the organiser, and the rider's own entries."""

import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.errors import NotFound, Refusal
from fleet.events.actions import enter_oneself, leave
from fleet.events.models import Day, Group
from fleet.events.queries import coming_entries, days_to_enter, entries_for
from fleet.events.seers import ENTERED
from fleet.garage.models import Bike, Rider
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.pages.garage import rider_of
from fleet.pages.units import day_of

WARMERS: Final = (("no", "No"), ("yes", "Yes"))


class EntryForm(PlainForm):
    """A bike in a group on a day."""

    def __init__(self, *args: Any, rider: Rider, days: list[Day], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = {
            f"{day.pk}:{group.pk}": (day, group) for day in days for group in day.event.groups.all()
        }
        bikes = Bike.objects.filter(rider=rider).select_related("rider").order_by("description", "id")
        self.take(
            riding=forms.ChoiceField(
                label="Day and group",
                choices=[("", "Choose one"), *((key, _named(*one)) for key, one in self.offered.items())],
                error_messages={"invalid_choice": "Choose one of those listed: this one takes no entries."},
            ),
            bike=forms.ModelChoiceField(
                label="Bike",
                queryset=bikes,
                empty_label="Choose one",
                error_messages={"invalid_choice": "Choose one of your own bikes."},
            ),
            number=forms.CharField(
                label="Number on the bike",
                max_length=6,
                widget=forms.TextInput(attrs={"autocomplete": "off", "size": "7"}),
            ),
            uses_warmers=forms.ChoiceField(
                label="Tire warmers", choices=WARMERS, widget=forms.RadioSelect, initial="no"
            ),
        )

    def given(self) -> dict[str, Any]:
        """Return what was chosen as the action's keywords."""
        day, group = self.offered[self.cleaned_data["riding"]]
        return {
            "day": day,
            "group": group,
            "bike": self.cleaned_data["bike"],
            "number": self.cleaned_data["number"],
            "uses_warmers": self.cleaned_data["uses_warmers"] == "yes",
        }


@require_http_methods(["GET", "HEAD", "POST"])
def events(request: HttpRequest) -> HttpResponse:
    """Show the days that take entries, and enter one of them."""
    by, at = person_of(request), timezone.now()
    rider = rider_of(by)
    days = days_to_enter(by, at=at)
    form = EntryForm(request.POST if request.method == "POST" else None, rider=rider, days=days)
    if request.method == "POST" and form.is_valid():
        try:
            entry = enter_oneself(by=by, at=at, **form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            said = f"You ride at {entry.day.event} on {day_of(entry.day.date)} with number {entry.number}."
            messages.success(request, said)
            return redirect("ride-at")
    context = {
        "place": "garage",
        "days": days,
        "entries": coming_entries([rider], at=at),
        "has_bike": rider.bikes.exists(),
        "opens": ENTERED,
        "form": form,
    }
    return render(request, "pages/ride_at.html", context, status=422 if form.errors else 200)


@require_POST
def leave_day(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Take the rider's own entry off a day that has not come yet."""
    by = person_of(request)
    entry = entries_for(by).filter(pk=pk, rider=rider_of(by)).first()
    if entry is None:
        raise NotFound("There is no such entry of yours: it may have been withdrawn.")
    leave(by=by, at=timezone.now(), entry=entry)
    messages.success(request, f"You no longer ride at {entry.day.event} on {day_of(entry.day.date)}.")
    return redirect("ride-at")


def _named(day: Day, group: Group) -> str:
    return f"{day.event}, {day_of(day.date)}: {group}"
