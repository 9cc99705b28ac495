"""The garage's start page: each wheel pair in use, what to set now, and the life left in its two tires."""

import uuid
from datetime import datetime
from typing import Final

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Person
from fleet.errors import Conflict, NotFound
from fleet.garage.models import Instrument, Rider
from fleet.garage.queries import is_old_comparison, own_gauges, own_rider
from fleet.inventory.models import Tire
from fleet.inventory.queries import own_open_tickets
from fleet.inventory.recalls import Recall, recalled_of
from fleet.inventory.telling import TOPIC
from fleet.life.actions import acknowledge_flag
from fleet.life.models import Flag
from fleet.life.queries import open_flags
from fleet.notices.actions import mark_read
from fleet.notices.models import Notice
from fleet.pages.asking import person_of, require_place
from fleet.pages.charts import top_for
from fleet.pages.pairs import pairs_of

CAUTIONS: Final = (
    "A start pressure is a starting point. The tire maker's published range and the bike's placard come first, and a "
    "qualified person decides. Check with your own gauge.",
    "New tires are slippery: scrub in, build up over the first laps.",
    "Track pressures are too low for the road: reset to the road pressure before riding home.",
    "Tread at or under the legal limit is not road legal; local law decides. Age and damage need an inspection by a "
    "professional, whatever the tread says.",
)


@require_safe
def garage(request: HttpRequest) -> HttpResponse:
    """Show a rider's wheel pairs in use."""
    by = person_of(request)
    rider = rider_of(by)
    at = timezone.now()
    gauge = own_gauge(rider)
    pairs = pairs_of(by, rider, gauge, at)
    spans = [
        one.mounted.assessment.remaining_days_90
        for pair in pairs
        for one in pair.axles
        if one.mounted and one.mounted.assessment
    ]
    context = {
        "place": "garage",
        "rider": rider,
        "pairs": pairs,
        "tickets": list(own_open_tickets(rider)),
        "tickets_zone": next((pair.coming.zone for pair in pairs if pair.coming), "UTC"),
        "gauge": gauge,
        "is_old_gauge": gauge is not None and is_old_comparison(gauge, on=at.date()),
        "recalled": _recalled(by, rider),
        "flags": list(own_flags(by, at).filter(acknowledged_at__isnull=True)),
        "top": top_for(max(spans, default=0.0)),
        "today": at.date(),
        "now": at,
        "cautions": CAUTIONS,
    }
    return render(request, "pages/garage.html", context)


@require_POST
def seen(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Note that the rider has seen a flag."""
    by = person_of(request)
    require_place(by, "garage")
    at = timezone.now()
    flag = own_flags(by, at).filter(pk=pk).first()
    if flag is None:
        raise NotFound("There is no such open note about your tires: it may have been cleared.")
    try:
        acknowledge_flag(by=by, at=at, flag=flag)
    except Conflict:
        return redirect("garage")
    return redirect("garage")


@require_POST
def recall_seen(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Note that the rider has read what was said about a recalled tire."""
    by = person_of(request)
    require_place(by, "garage")
    unread = _unread(by).filter(about__endswith=f":{pk}")
    for notice in unread:
        mark_read(by=by, at=timezone.now(), notice=notice)
    return redirect("garage")


def rider_of(by: Person) -> Rider:
    """Return the rider record of somebody who is at the garage."""
    require_place(by, "garage")
    rider = own_rider(by)
    if rider is None:
        raise NotFound("You have no rider record: ask your vendor to join it to this account.")
    return rider


def own_flags(by: Person, at: datetime) -> QuerySet[Flag]:
    """Return the open flags of somebody's own tires."""
    return open_flags(by, on=at.date()).filter(tire__owner__person=by)


def own_gauge(rider: Rider) -> Instrument | None:
    """Return the rider's pressure gauge."""
    return own_gauges([rider.pk]).get(rider.pk)


def _unread(by: Person) -> QuerySet[Notice]:
    return Notice.objects.filter(person=by, topic=TOPIC, read_at__isnull=True)


def _recalled(by: Person, rider: Rider) -> list[tuple[Tire, list[Recall], bool]]:
    found = recalled_of(rider)
    unread = (
        {about.split(":")[-1] for about in _unread(by).values_list("about", flat=True)} if found else set()
    )
    return [(tire, recalls, str(tire.pk) in unread) for tire, recalls in found]
