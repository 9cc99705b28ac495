"""After the day: what was promised against what was read, whose tires did not last, and on what people rode."""

import uuid
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, require
from fleet.events.models import Day, Entry
from fleet.events.queries import entrants_for, entries_for
from fleet.life.models import Flag, State
from fleet.pages.asking import person_of
from fleet.pages.desk import desk_day
from fleet.pressures.afterwards import promises_kept, tires_used


@dataclass(frozen=True)
class WornOut:
    """An entrant's tire that came to its end on the day."""

    entry: Entry
    flag: Flag


@require_safe
def after_day(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the day looked back on, to read and to print."""
    by, at = person_of(request), timezone.now()
    day = desk_day(by, pk)
    require(by, Right.READ_ENTRANT_PRESSURES, day.event.organiser)
    promises = promises_kept(by, day, at=at)
    used = tires_used(day)
    context = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "promises": promises,
        "readings": sum(len(one.off_kpa) for one in promises),
        "otherwise": sum(one.otherwise for one in promises),
        "worn_out": worn_out(by, day, at=at),
        "used": used,
        "tires": sum(one.count for one in used),
    }
    return render(request, "pages/after_day.html", context)


def worn_out(by: Person, day: Day, *, at: datetime) -> list[WornOut]:
    """Return the entrants' tires that were flagged to stand down on the day, in the order it happened."""
    begins = datetime.combine(day.date, time(), tzinfo=ZoneInfo(day.layout.track.time_zone))
    entries = {
        entry.rider_id: entry
        for entry in entries_for(by).filter(day=day, rider__in=entrants_for(by, on=at.date()))
    }
    flags = (
        Flag.objects.filter(
            tire__owner__in=list(entries),
            state=State.STAND_DOWN,
            raised_at__gte=begins,
            raised_at__lt=begins + timedelta(days=1),
        )
        .select_related("tire__spec__line")
        .order_by("raised_at", "id")
    )
    return [WornOut(entries[flag.tire.owner_id], flag) for flag in flags if flag.tire.owner_id in entries]
