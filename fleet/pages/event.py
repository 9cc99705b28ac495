"""An event at the desk: its days, its groups, and whether riders enter themselves."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, may, organisations, require
from fleet.errors import NotFound, Refusal
from fleet.events.actions import add_day, add_group, correct_event, correct_group
from fleet.events.models import Event, Group, Layout
from fleet.events.queries import by_pace, events_for
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import PlainForm
from fleet.pages.plan_event import YES_NO, DateField, LapField, LayoutField


class EventForm(PlainForm):
    """What may be mended of an event."""

    name = forms.CharField(label="Name of the event", max_length=100)
    takes_entries = forms.ChoiceField(
        label="Riders may enter themselves", choices=YES_NO, widget=forms.RadioSelect
    )


class GroupForm(PlainForm):
    """A pace group."""

    name = forms.CharField(label="Group", max_length=40)
    usual_lap_s = LapField(label="Usual lap", required=False, help_text="Minutes and seconds, such as 1:52.")


class DayForm(PlainForm):
    """One more day."""

    date = DateField(label="Date")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(
            layout=LayoutField(
                label="Track and layout",
                queryset=Layout.objects.select_related("track").order_by("track__name", "name", "id"),
                empty_label="Choose one",
                error_messages={"invalid_choice": "Choose one of the layouts listed."},
            )
        )


def desk_event(by: Person, pk: uuid.UUID) -> Event:
    """Return an event of the organisations whose desk somebody works at."""
    require_place(by, "desk")
    found = events_for(by).filter(pk=pk, organiser__in=organisations(by, Right.READ_EVENT)).first()
    if found is None:
        raise NotFound("There is no such event at your desk: choose one from the list.")
    return found


@require_http_methods(["GET", "HEAD", "POST"])
def event(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show an event, and mend its name or whether it takes entries."""
    by = person_of(request)
    row = desk_event(by, pk)
    if request.method != "POST":
        return _show(request, by, row)
    require(by, Right.EDIT_EVENT, row.organiser)
    form = EventForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            correct_event(by=by, event=row, name=given["name"], takes_entries=given["takes_entries"] == "yes")
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The event is kept as you see it.")
            return redirect("event", pk)
    return _show(request, by, row, refused=form, event_form=form)


@require_POST
def add_event_day(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Add a day."""
    by = person_of(request)
    row = desk_event(by, pk)
    require(by, Right.EDIT_EVENT, row.organiser)
    form = DayForm(request.POST, prefix="day")
    if form.is_valid():
        try:
            made = add_day(by=by, event=row, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The day is added: set its times on track.")
            return redirect("timetable", made.pk)
    return _show(request, by, row, refused=form, day_form=form)


@require_POST
def add_event_group(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Add a pace group."""
    by = person_of(request)
    row = desk_event(by, pk)
    require(by, Right.EDIT_EVENT, row.organiser)
    form = GroupForm(request.POST, prefix="group")
    if form.is_valid():
        try:
            made = add_group(by=by, event=row, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Group {made} is added.")
            return redirect("event", pk)
    return _show(request, by, row, refused=form, group_form=form)


@require_POST
def mend_group(request: HttpRequest, pk: uuid.UUID, group: uuid.UUID) -> HttpResponse:
    """Mend a pace group's name or usual lap."""
    by = person_of(request)
    row = desk_event(by, pk)
    require(by, Right.EDIT_EVENT, row.organiser)
    found = Group.objects.filter(pk=group, event=row).select_related("event__organiser").first()
    if found is None:
        raise NotFound("This event has no such group: choose one from its list.")
    form = _mending(found, request.POST)
    if form.is_valid():
        try:
            correct_group(by=by, group=found, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Group {found} is kept as you see it.")
            return redirect("event", pk)
    return _show(request, by, row, refused=form, mended=(found.pk, form))


def _mending(group: Group, sent: Any = None) -> GroupForm:
    initial = {"name": group.name, "usual_lap_s": group.usual_lap_s}
    return GroupForm(sent, prefix=f"g{group.pk.hex[:8]}", initial=initial)


def _show(
    request: HttpRequest,
    by: Person,
    row: Event,
    *,
    refused: PlainForm | None = None,
    event_form: EventForm | None = None,
    day_form: DayForm | None = None,
    group_form: GroupForm | None = None,
    mended: tuple[uuid.UUID, GroupForm] | None = None,
) -> HttpResponse:
    days = row.days.select_related("layout__track").order_by("date")
    counted = days.annotate(riders=Count("entries", distinct=True), times=Count("slots", distinct=True))
    groups = by_pace(row.groups.annotate(riders=Count("entries")))
    forms_of = {mended[0]: mended[1]} if mended else {}
    shown = {"name": row.name, "takes_entries": "yes" if row.takes_entries else "no"}
    last = days.last()
    context = {
        "place": "desk",
        "event": row,
        "today": timezone.now().date(),
        "days": counted,
        "groups": [(group, forms_of.get(group.pk) or _mending(group)) for group in groups],
        "may_edit": may(by, Right.EDIT_EVENT, row.organiser),
        "form": refused,
        "event_form": event_form or EventForm(initial=shown),
        "day_form": day_form or DayForm(prefix="day", initial={"layout": last.layout_id if last else None}),
        "group_form": group_form or GroupForm(prefix="group"),
    }
    return render(request, "pages/event.html", context, status=422 if refused is not None else 200)
