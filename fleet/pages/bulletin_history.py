"""The bulletins of a day at the desk, and what is different between any two."""

import uuid
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.accounts.policy import Right, require
from fleet.errors import Invalid
from fleet.pages.asking import person_of, typed
from fleet.pages.desk import desk_day
from fleet.pressures.differences import differences_between
from fleet.pressures.queries import bulletins_for

WEATHER: Final = {
    "air_c": "Air",
    "track_surface_c": "Track surface",
    "barometer_kpa": "Barometer at the track",
}


@require_safe
def bulletin_history(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show every bulletin of a day, and two of them beside each other: the last two unless others are chosen."""
    by = person_of(request)
    day = desk_day(by, pk)
    require(by, Right.READ_BULLETIN, day.event.organiser)
    rows = list(bulletins_for(by).filter(day=day).order_by("number"))
    numbers = {row.number: row for row in rows}
    usual = [row.number for row in rows[-2:]]
    earlier = numbers.get(_number(request, "from", usual[0] if usual else 0))
    later = numbers.get(_number(request, "to", usual[-1] if usual else 0))
    found = None
    if earlier and later and earlier != later:
        found = differences_between(earlier, later)
    context = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "bulletins": rows[::-1],
        "earlier": earlier,
        "later": later,
        "found": found,
        "weather": [(part, WEATHER[name], name, was, now) for part, name, was, now in found.weather]
        if found
        else [],
    }
    return render(request, "pages/bulletin_history.html", context)


def _number(request: HttpRequest, name: str, usual: int) -> int:
    text = typed(request.GET, name)
    if not text:
        return usual
    if not (text.isascii() and text.isdigit() and len(text) < 6):  # noqa: PLR2004 - no day has that many
        raise Invalid(f"“{text[:20]}” is no number of a bulletin: choose one of the list.", field=name)
    return int(text)
