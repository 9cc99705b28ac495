"""The bulletin of a day for anybody in the paddock: on a phone, on the wall, on a big screen."""

from datetime import date, datetime
from typing import Any, Final

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.errors import NotFound
from fleet.events.models import Day
from fleet.pages.boards import board_of, when_of
from fleet.pages.printing.bulletin import notice_of, pdf_of_notice, text_of_notice
from fleet.pages.printing.codes import origin
from fleet.pages.printing.papers import BULLETIN_PAPERS
from fleet.pressures.models import Bulletin
from fleet.pressures.queries import public_bulletin
from fleet.pressures.told import part_told_at

MARKS: Final = ("L:", "H:", "One figure")
"""How the notes begin that explain the marks on a board."""


@login_not_required
@require_safe
def bulletin(request: HttpRequest, public_code: str) -> HttpResponse:
    """Show the bulletin in force, to read or to print on one page."""
    return render(request, "pages/bulletin.html", _context(public_code))


@login_not_required
@require_safe
def bulletin_pdf(request: HttpRequest, public_code: str) -> HttpResponse:
    """Answer with the bulletin in force as PDF, for the wall."""
    paper = BULLETIN_PAPERS.chosen(request)
    found = _context(public_code)
    if found["bulletin"] is None:
        raise NotFound("No bulletin is in force for this day now: ask at the event desk, or come back later.")
    return pdf_of_notice(found["notice"], paper=paper, name=f"bulletin-{found['bulletin'].number}")


@login_not_required
@require_safe
def bulletin_text(request: HttpRequest, public_code: str) -> HttpResponse:
    """Answer with the bulletin in force as plain text, to paste into a chat group."""
    found = _context(public_code)
    if found["bulletin"] is None:
        raise NotFound("No bulletin is in force for this day now: ask at the event desk, or come back later.")
    address = origin(request) + reverse("bulletin", args=[public_code])
    return HttpResponse(text_of_notice(found["notice"], address), content_type="text/plain; charset=utf-8")


@login_not_required
@require_safe
def bulletin_json(request: HttpRequest, public_code: str) -> HttpResponse:  # noqa: ARG001 - the same for everybody
    """Answer with what is in force, for displays of others: SI units, and nothing in the place of the content when there is none."""
    found = _context(public_code)
    row, day = found["bulletin"], found["day"]
    told = {
        "event": day.event.name,
        "date": day.date.isoformat(),
        "in_force": row is not None,
        "number": row.number if row else None,
        "issued_at": row.issued_at.isoformat() if row else None,
        "digest": row.digest if row else None,
        "content": row.content if row else None,
    }
    return JsonResponse(told, headers={"Access-Control-Allow-Origin": "*", "Cache-Control": "no-cache"})


@login_not_required
@require_safe
def board(request: HttpRequest, public_code: str) -> HttpResponse:
    """Show the bulletin in force on a big screen."""
    return render(request, "pages/board.html", _context(public_code))


def _context(public_code: str) -> dict[str, Any]:
    day = Day.objects.filter(public_code=public_code).select_related("event", "layout__track").first()
    if day is None:
        raise Http404
    found = public_bulletin(public_code)
    if found is None:
        last = Bulletin.objects.filter(day=day).order_by("-number").first()
        return {"day": day, "zone": day.layout.track.time_zone, "bulletin": None, "last": last}
    content = found.content
    zone = day.layout.track.time_zone
    at = timezone.now()
    part = part_told_at(content, at)
    board = board_of(content)
    notice = notice_of(found, board)
    return {
        "day": day,
        "zone": zone,
        "bulletin": found,
        "content": content,
        "date": date.fromisoformat(content["date"]),
        "part": part,
        "now": part.name if part.starts_at <= at < part.ends_at else "",
        "when": when_of(part, zone),
        "holds_at": datetime.fromisoformat(part.conditions["holds_at"]),
        "board": board,
        "screen": board_of(content, [part]),
        "notice": notice,
        "heads": zip(notice.columns, notice.below, [None, None, *board.columns], strict=True),
        "marks": [note for note in notice.notes if note.startswith(MARKS)],
    }
