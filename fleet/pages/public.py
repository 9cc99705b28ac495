"""The bulletin of a day for anybody in the paddock: on a phone, on the wall, on a big screen."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.events.models import Day
from fleet.pressures.models import Bulletin
from fleet.pressures.queries import public_bulletin

SOME_ROWS: Final = 12
MANY_ROWS: Final = 22


@dataclass
class BoardRow:
    """One tire on the board: its size, and a line for each group."""

    axle: str
    size: str
    compound: str
    uses_warmers: bool
    hot_target_kpa: float
    cells: list[dict[str, Any] | None] = field(default_factory=list)


@dataclass
class BoardPart:
    """One tire line on the board with its rows, front before rear."""

    name: str
    rows: list[BoardRow] = field(default_factory=list)


@dataclass(frozen=True)
class Board:
    """A bulletin as people read it: a row for each tire, a column for each group."""

    groups: list[str]
    parts: list[BoardPart]
    has_limits: bool
    is_thin: bool

    @property
    def length(self) -> str:
        """Return in a word how many rows a screen has to hold."""
        rows = sum(len(part.rows) for part in self.parts)
        return "is-longer" if rows > MANY_ROWS else "is-long" if rows > SOME_ROWS else ""


def board_of(content: dict[str, Any]) -> Board:
    """Return the lines of a bulletin by tire and group, in the order they were issued."""
    lines = content["lines"]
    groups = list(dict.fromkeys(line["group"] for line in lines))
    parts: dict[str, BoardPart] = {}
    rows: dict[tuple[str, bool], BoardRow] = {}
    for line in sorted(lines, key=lambda one: (one["maker"], one["line"], one["axle"], one["size"])):
        name = f"{line['maker']} {line['line']}"
        part = parts.setdefault(name, BoardPart(name))
        key = (line["spec"], line["uses_warmers"])
        if key not in rows:
            rows[key] = BoardRow(
                line["axle"], line["size"], line["compound"], line["uses_warmers"], line["hot_target_kpa"],
                [None] * len(groups),
            )  # fmt: skip
            part.rows.append(rows[key])
        rows[key].cells[groups.index(line["group"])] = line
    return Board(
        groups,
        list(parts.values()),
        has_limits=any(line["limit_hit"] for line in lines),
        is_thin=any(line["readings"] == 0 for line in lines),
    )


@login_not_required
@require_safe
def bulletin(request: HttpRequest, public_code: str) -> HttpResponse:
    """Show the bulletin in force, to read or to print on one page."""
    return render(request, "pages/bulletin.html", _context(public_code))


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
    return {
        "day": day,
        "zone": day.layout.track.time_zone,
        "bulletin": found,
        "content": content,
        "date": date.fromisoformat(content["date"]),
        "holds_at": datetime.fromisoformat(content["conditions"]["holds_at"]),
        "board": board_of(content),
    }
