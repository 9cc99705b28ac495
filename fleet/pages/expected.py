"""Whose wheels may come in: everybody the trailer's vendors serve who rides today or tomorrow, on one page.

A device keeps it, so that a number, a name or a label typed with no network still finds the wheels.
"""

from datetime import datetime, timedelta
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.events.models import Entry
from fleet.garage.models import WheelPair
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import riders_served, tickets_for
from fleet.life.queries import SetView, sets_of
from fleet.pages.asking import person_of, require_place
from fleet.pages.trailer import local_today

MOST_RIDERS: Final = 80


@require_safe
def expected(request: HttpRequest) -> HttpResponse:
    """Show the wheels of those who ride today or tomorrow, by number, with what is on them."""
    by = person_of(request)
    require_place(by, "trailer")
    at = timezone.now()
    entries = entries_expected(by, at)
    views: dict[Any, list[SetView]] = {}
    for view in sets_of([entry.rider for entry in entries], only_in_use=False) if entries else []:
        views.setdefault(view.wheel_pair.bike_id, []).append(view)
    here = {
        ticket.wheel_pair_id: ticket for ticket in tickets_for(by).exclude(state=JobTicket.State.COLLECTED)
    }
    rows = [
        {"entry": entry, "view": view, "ticket": here.get(view.wheel_pair.pk), "text": _text(entry, view)}
        for entry in entries
        for view in sorted(views.get(entry.bike_id, []), key=lambda view: not view.wheel_pair.is_in_use)
    ]
    context = {"place": "trailer", "rows": rows, "today": local_today(by, at), "most": MOST_RIDERS}
    return render(request, "pages/expected.html", context | {"is_cut": len(entries) == MOST_RIDERS})


def entries_expected(by: Person, at: datetime) -> list[Entry]:
    """Return the entries of today and tomorrow of riders whom somebody's vendors serve, each bike once, today's first."""
    today = local_today(by, at)
    rows = Entry.objects.filter(
        rider__in=riders_served(by).values("pk"), day__date__range=(today, today + timedelta(days=1))
    )
    entries: dict[Any, Entry] = {}
    for entry in rows.select_related("rider", "bike", "group", "day__event").order_by(
        "day__date", "number", "pk"
    ):
        entries.setdefault(entry.bike_id, entry)
    return list(entries.values())[:MOST_RIDERS]


def wheels_expected(by: Person, at: datetime) -> list[WheelPair]:
    """Return the wheel pairs of those bikes, those in use first."""
    bikes = [entry.bike_id for entry in entries_expected(by, at)]
    return list(WheelPair.objects.filter(bike__in=bikes).order_by("-is_in_use", "bike", "pk"))


def _text(entry: Entry, view: SetView) -> str:
    """Return what a row is found by, as the finder does: number, name, code, and the labels on the wheels."""
    labels = [mounted.fitting.tire.label_code for mounted in view.tires.values()]
    return " ".join([entry.number, entry.rider.name, entry.rider.code, *labels]).lower()
