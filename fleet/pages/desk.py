"""The event desk's start page: the days of the organisations somebody works for, today and next first."""

import uuid
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, may, organisations
from fleet.errors import NotFound
from fleet.events.models import Day
from fleet.events.queries import days_for
from fleet.pages.asking import person_of, require_place
from fleet.pressures.models import Bulletin
from fleet.pressures.queries import in_force

PAST_SHOWN = 20


@require_safe
def desk(request: HttpRequest) -> HttpResponse:
    """Show the days, each with its track, how many ride, and the bulletin in force."""
    by = person_of(request)
    require_place(by, "desk")
    at = timezone.now()
    rows = (
        desk_days(by)
        .annotate(riders=Count("entries"))
        .prefetch_related(
            Prefetch("bulletins", queryset=Bulletin.objects.filter(in_force()), to_attr="now_in_force")
        )
    )
    coming = [day for day in rows.filter(date__gte=at.date() - timedelta(days=1)) if not is_over(day, at)]
    past = rows.filter(date__lt=at.date() + timedelta(days=1)).order_by("-date", "event__code", "id")
    context = {
        "place": "desk",
        "coming": coming,
        "past": [day for day in past[:PAST_SHOWN] if is_over(day, at)],
        "today": at,
        "may_plan": organisations(by, Right.EDIT_EVENT).filter(is_organiser=True).exists(),
        "may_read_recalls": organisations(by, Right.READ_RECALLS).exists(),
    }
    return render(request, "pages/desk.html", context)


def desk_days(by: Person) -> QuerySet[Day]:
    """Return the days of events run by the organisations whose desk somebody works at."""
    return days_for(by).filter(event__organiser__in=organisations(by, Right.READ_EVENT))


def desk_day(by: Person, pk: uuid.UUID) -> Day:
    """Return one of those days."""
    require_place(by, "desk")
    found = desk_days(by).filter(pk=pk).first()
    if found is None:
        raise NotFound("There is no such day at your desk: choose one from the list.")
    return found


def rights_on(by: Person, day: Day, asked: Iterable[Right]) -> dict[str, Any]:
    """Return by name which of some rights somebody has on a day, for the template to ask."""
    return {right.value: may(by, right, day.event.organiser) for right in asked}


def local_date(day: Day, at: datetime) -> date:
    """Return the date at a day's track."""
    return at.astimezone(ZoneInfo(day.layout.track.time_zone)).date()


def is_over(day: Day, at: datetime) -> bool:
    """Return whether a day lies before today at its own track."""
    return day.date < local_date(day, at)
