"""Planning an event: its track, days, groups, and what it takes over from an earlier one."""

import re
from datetime import date
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import NotAllowed, Refusal
from fleet.events.actions import begin_like, set_up_event
from fleet.events.models import Event, Layout
from fleet.events.queries import events_for
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import FIRST_YEAR, LAST_YEAR, PlainForm, whole_number
from fleet.pages.units import lap_time

YES_NO: Final = (("no", "No"), ("yes", "Yes"))
MOST_TRIES: Final = 50
LONGEST_NAME: Final = 40
_LAP: Final = re.compile(r"(\d{1,2}):([0-5]\d(?:\.\d{1,3})?)|(\d{2,3}(?:\.\d{1,3})?)(?:\s*s)?")
_GROUP: Final = re.compile(
    rf"(?P<name>.*?)(?:\s*,\s*(?P<lap>{_LAP.pattern})|\s+(?P<clock>\d{{1,2}}:[0-5]\d(?:\.\d{{1,3}})?))?"
)
GroupsTyped = list[tuple[str, float | None]]


class DateField(forms.DateField):
    """A date of the calendar, in a browser's own control."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            error_messages={"invalid": "This is no date: give one such as 2026-06-12."},
            **kwargs,
        )

    def to_python(self, value: Any) -> date | None:
        """Return the date that was typed, within the years the service keeps."""
        found: date | None = super().to_python(value)
        if found and not FIRST_YEAR <= found.year < LAST_YEAR:
            raise forms.ValidationError(
                f"The year lies between {FIRST_YEAR} and {LAST_YEAR}: check the date."
            )
        return found


class GroupsField(forms.CharField):
    """Pace groups, one a line, each with its usual lap where it is known."""

    def to_python(self, value: Any) -> Any:
        """Return each group's name and usual lap in seconds."""
        lines = [" ".join(line.split()) for line in str(value or "").splitlines()]
        found: GroupsTyped = [group_typed(line) for line in lines if line]
        names = [name.casefold() for name, _ in found]
        if twice := next((name for name, _ in found if names.count(name.casefold()) > 1), ""):
            raise forms.ValidationError(f"The group “{twice}” stands twice: keep one of the two.")
        return found


class LapField(forms.CharField):
    """A lap time as minutes and seconds, or as seconds."""

    def prepare_value(self, value: Any) -> Any:
        """Return a stored lap time as minutes and seconds; what was typed stays as it was typed."""
        return lap_time(value) if isinstance(value, float | int) else value

    def to_python(self, value: Any) -> Any:
        """Return the lap in seconds."""
        text = str(value or "").strip()
        return lap_typed(text) if text else None


def group_typed(line: str) -> tuple[str, float | None]:
    """Return a group's name and usual lap from ``Fast``, ``Fast, 1:52`` or ``Fast 1:52``."""
    found = _GROUP.fullmatch(line)
    name = found["name"].strip(" ,") if found else line
    if re.search(r"\d:\d|,\s*[\d.,]+\s*s?$", name):
        raise forms.ValidationError(
            f"“{line[:60]}” ends in no lap time: give minutes and seconds, such as Fast, 1:52."
        )
    if not name or len(name) > LONGEST_NAME:
        raise forms.ValidationError(
            f"“{line[:60]}” is no group: give a name of at most 40 letters, such as Fast, 1:52."
        )
    lap = found and (found["lap"] or found["clock"])
    return name, lap_typed(lap) if lap else None


def lap_typed(text: str) -> float:
    """Return the seconds of a lap typed as 1:52, 1:52.4 or 112."""
    found = _LAP.fullmatch(text.replace(",", "."))
    if found is None:
        raise forms.ValidationError(
            f"“{text[:20]}” is no lap time: give minutes and seconds such as 1:52, or seconds."
        )
    minutes, seconds, alone = found.groups()
    total = float(alone) if alone else int(minutes) * 60 + float(seconds)
    if not 20 <= total <= 900:  # noqa: PLR2004 - as the column has it
        raise forms.ValidationError(f"A lap of {text} is not plausible: give 0:20 to 15:00.")
    return total


class LayoutField(forms.ModelChoiceField):  # type: ignore[type-arg]  # generic in the stubs only
    """A way of running a track, with its length."""

    def label_from_instance(self, obj: Any) -> str:
        """Return how a layout stands in the list."""
        return f"{obj}, {obj.length_km:g} km"


class PlanForm(PlainForm):
    """What an event is, and what it begins with."""

    def __init__(
        self, *args: Any, houses: QuerySet[Organisation], earlier: QuerySet[Event], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        first = houses.first()
        self.take(
            organiser=forms.ModelChoiceField(
                label="Organiser", queryset=houses, empty_label=None, initial=first
            ),
            name=forms.CharField(label="Name of the event", max_length=100, help_text="As riders read it."),
            layout=LayoutField(
                label="Track and layout",
                queryset=Layout.objects.select_related("track").order_by("track__name", "name", "id"),
                empty_label="Choose one",
                error_messages={"invalid_choice": "Choose one of the layouts listed."},
            ),
            first_day=DateField(label="First day"),
            days=whole_number("Days in a row", least=1),
            earlier=forms.ModelChoiceField(
                label="Begin like an earlier event",
                queryset=earlier,
                required=False,
                empty_label="Begin with nothing",
                help_text="Takes its groups and its times on track over; both can be changed afterwards.",
                error_messages={"invalid_choice": "Choose one of your own events."},
            ),
            groups=GroupsField(
                label="Groups",
                required=False,
                widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
                help_text="One a line, the fastest first, with the usual lap where you know it: Fast, 1:52",
            ),
            takes_entries=forms.ChoiceField(
                label="Riders may enter themselves", choices=YES_NO, widget=forms.RadioSelect, initial="no"
            ),
        )
        if houses.count() == 1:
            self.fields["organiser"].widget = forms.HiddenInput()
            self.fields["organiser"].label = ""


@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: HttpRequest) -> HttpResponse:
    """Ask for an event, and store it with its days and groups."""
    by = person_of(request)
    require_place(by, "desk")
    houses = organisations(by, Right.EDIT_EVENT).filter(is_organiser=True).order_by("name")
    if not houses.exists():
        raise NotAllowed("Events are planned by the organiser's crew: ask them.")
    earlier = events_for(by).filter(organiser__in=houses).order_by("-days__date", "name").distinct()
    form = PlanForm(
        request.POST if request.method == "POST" else None,
        houses=houses,
        earlier=Event.objects.filter(pk__in=earlier.values("pk")).order_by("name", "code"),
        initial={"first_day": timezone.now().date(), "days": 1},
    )
    if request.method == "POST" and form.is_valid():
        try:
            event = _planned(request, by, form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{event} is planned. Set its times on track, and bring in the riders.")
            return redirect("event", event.pk)
    context = {"place": "desk", "form": form, "has_layouts": Layout.objects.exists()}
    return render(request, "pages/plan_event.html", context, status=422 if form.errors else 200)


@transaction.atomic
def _planned(request: HttpRequest, by: Person, given: dict[str, Any]) -> Event:
    earlier = given.pop("earlier")
    event = set_up_event(
        by=by,
        code=free_code(given["name"], given["first_day"]),
        **given | {"takes_entries": given["takes_entries"] == "yes"},
    )
    for fault in begin_like(by=by, event=event, earlier=earlier) if earlier else ():
        messages.warning(request, f"Not taken over from {earlier}: {fault.sentence}")
    return event


def free_code(name: str, first_day: date) -> str:
    """Return a short name for files and programs that no event has yet."""
    begun = f"{slugify(name)[:40].strip('-') or 'event'}-{first_day.isoformat()}"
    taken = set(Event.objects.filter(code__startswith=begun).values_list("code", flat=True))
    tries = (begun if number == 1 else f"{begun}-{number}" for number in range(1, MOST_TRIES))
    return next((code for code in tries if code not in taken), begun)
