"""The board of job tickets that all tablets of a trailer share: by promised time, a tap to the next state."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import open_tickets, tickets_for
from fleet.pages.asking import person_of, require_place
from fleet.pages.ticket import NEXT
from fleet.pages.trailer import stock_on_trailer, trailer_zone
from fleet.pages.units import clock, day_of, short_day_and_clock

State = JobTicket.State
LIST: Final = "pages/tickets.html"
NUMBERS: Final = "pages/numbers.html"


@dataclass(frozen=True)
class Line:
    """A ticket on the board: when it is promised, with the day where that is not today, and what comes next."""

    ticket: JobTicket
    promised: str
    is_overdue: bool
    next: tuple[str, str] | None


@require_safe
def trailer(request: HttpRequest) -> HttpResponse:
    """Show the open tickets, the way to take wheels in, and what is left on the trailer."""
    by = _at_the_trailer(request)
    at = timezone.now()
    told = _told(by, at)
    context = told | {"place": "trailer", "stock": stock_on_trailer(by), "mark": _mark(_bare(LIST, told))}
    return render(request, "pages/trailer.html", context)


@require_safe
def board(request: HttpRequest) -> HttpResponse:
    """Show the numbers of the tickets on a screen at the trailer's side, for those who wait: no names."""
    told = _told(_at_the_trailer(request), timezone.now())
    return render(request, "pages/numbers_board.html", told | {"mark": _mark(_bare(NUMBERS, told))})


@require_safe
def rows(request: HttpRequest) -> HttpResponseBase:
    """Answer with the list of tickets alone, or that it did not change."""
    return _part(request, LIST)


@require_safe
def numbers(request: HttpRequest) -> HttpResponseBase:
    """Answer with the numbers alone, or that they did not change."""
    return _part(request, NUMBERS)


def _at_the_trailer(request: HttpRequest) -> Person:
    by = person_of(request)
    require_place(by, "trailer")
    return by


def _part(request: HttpRequest, template: str) -> HttpResponseBase:
    """Answer with a part of a page by its mark (RFC 9110, section 13.1.2), and with the clock of the place."""
    told = _told(_at_the_trailer(request), timezone.now())
    part = _bare(template, told)
    answer = HttpResponse(part, headers={"ETag": _mark(part)})
    found = get_conditional_response(request, etag=_mark(part), response=answer) or answer
    found["X-Clock"] = told["clock"]
    return found


def _bare(template: str, told: dict[str, Any]) -> str:
    # Without the token of the form, which is another with every answer; the page's script fills in its own.
    return render_to_string(template, told | {"is_bare": True})


def _mark(part: str) -> str:
    return f'"{hashlib.sha256(part.encode()).hexdigest()[:32]}"'


def _told(by: Person, at: datetime) -> dict[str, Any]:
    zone = trailer_zone(by, at)
    today = at.astimezone(ZoneInfo(zone)).date()
    lines = [_line(ticket, at, zone) for ticket in open_tickets(by)]
    done = tickets_for(by).filter(state=State.COLLECTED, opened_on=today).order_by("-number", "id")
    return {
        "zone": zone,
        "today": today,
        "clock": clock(at, zone),
        "to_do": [line for line in lines if line.ticket.state != State.READY],
        "ready": [line for line in lines if line.ticket.state == State.READY],
        "collected": list(done),
    }


def _line(ticket: JobTicket, at: datetime, zone: str) -> Line:
    following = NEXT.get(State(ticket.state))
    promised_at = ticket.promised_at
    if promised_at is None:
        return Line(ticket, "", is_overdue=False, next=following)
    is_today = day_of(promised_at, zone) == day_of(at, zone)
    promised = (clock if is_today else short_day_and_clock)(promised_at, zone)
    return Line(ticket, promised, promised_at < at and ticket.state != State.READY, following)
