"""The bulletin for the wall: one A4 or letter page, black on white, read at arm's length."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django.http import HttpResponse

from fleet.events.models import Standing
from fleet.pages.boards import DASH, Board, BoardRow
from fleet.pages.printing.typesetting import answer_with, pdf_of
from fleet.pages.units import (
    SPACE,
    clock,
    day_and_clock,
    day_of,
    digest_words,
    for_warmer,
    hectopascal,
    pressure,
    pressure_figure,
    temperature,
)
from fleet.pressures.models import Bulletin
from fleet.pressures.told import parts_of

SET_HOW = "Set, in psi, before the first session, on tires at air temperature."
SET_HOW_BY_PART = (
    "Set, in psi, before your first session of each part of the day, on tires at air temperature."
)


@dataclass(frozen=True)
class Cell:
    """What to set on one tire: psi, whether a limit holds it, its span, and bar."""

    start: str
    limit: str
    span: str
    bar: str


@dataclass(frozen=True)
class Row:
    """One tire with its target and a cell for each column, empty where nobody rides it."""

    tire: str
    groups: str
    size: str
    hot: str
    hot_bar: str
    cells: list[Cell | None]

    @property
    def is_same(self) -> bool:
        """Return whether it says the same in each of several columns."""
        told = {(cell.start, cell.limit) for cell in self.cells if cell}
        return len(told) == 1 < len(self.cells) and None not in self.cells


@dataclass(frozen=True)
class Part:
    """The tires of one line."""

    name: str
    rows: list[Row]


@dataclass(frozen=True)
class Notice:
    """Every word of a bulletin, in the order it is read."""

    title: str
    heading: str
    number: str
    about: str
    issued: str
    set_how: str
    notes: list[str]
    columns: list[str]
    below: list[list[str]]
    parts: list[Part]
    cautions: list[str]
    digest: str


def notice_of(bulletin: Bulletin, board: Board) -> Notice:
    """Return the words of a bulletin, in psi with bar beside for everybody alike."""
    content = bulletin.content
    number = f"Bulletin {content['number']}"
    place = f"{content['track']}, {content['layout']}"
    return Notice(
        title=f"{number}, {content['event']}",
        heading="Start pressures",
        number=number,
        about=f"{content['event']} · {day_of(date.fromisoformat(content['date']))} · {place}",
        issued=_issued(bulletin.issued_at, content, board),
        set_how=SET_HOW_BY_PART if board.has_parts else SET_HOW,
        notes=_notes(content, board),
        columns=["Tire", "Hot target", *(_headed(column.name, board) for column in board.columns)],
        below=[
            [],
            [],
            *([column.when, column.weather] if board.has_parts else [] for column in board.columns),
        ],
        parts=[Part(part.name, [_row(row) for row in part.rows]) for part in board.tires],
        cautions=list(content["cautions"]),
        digest=f"Digest of the content: {digest_words(bulletin.digest)}",
    )


def text_of_notice(notice: Notice, address: str) -> str:
    """Return a bulletin as plain text for a chat group: a tire a line, what to set in each group or part of the day, the cautions, where it stands."""
    lines = [f"{notice.number}: {notice.about}", notice.issued, "", notice.set_how]
    for part in notice.parts:
        lines += ["", part.name]
        lines += [_line(row, notice.columns[2:]) for row in part.rows]
    return "\n".join([*lines, "", *notice.notes, *notice.cautions, "", notice.digest, address, ""])


def _line(row: Row, columns: list[str]) -> str:
    """Return a row on one line; what is the same in each of its columns stands there once."""
    named = [(column, cell) for column, cell in zip(columns, row.cells, strict=True) if cell]
    if row.groups:
        named = [(f"{column[:1].lower()}{column[1:]}", cell) for column, cell in named]
    if row.groups and row.is_same:
        named = [("all day", named[0][1])]
    told = ", ".join(f"{column} {cell.start} {cell.limit}".strip() for column, cell in named)
    return f"{row.tire} {row.size}{row.groups and f', {row.groups}'}: {told}"


def pdf_of_notice(notice: Notice, *, paper: str, name: str) -> HttpResponse:
    """Return a bulletin as PDF; a public one, asked for by many, is set once."""
    return answer_with(_set(json.dumps(asdict(notice) | {"paper": paper})), name=name)


@lru_cache(maxsize=32)
def _set(words: str) -> bytes:
    return pdf_of("bulletin", json.loads(words))


def is_by_hand(line: dict[str, Any]) -> bool:
    """Return whether a line of a bulletin was set by hand; those issued before this was possible do not say."""
    return line.get("computed_kpa") is not None


def _headed(name: str, board: Board) -> str:
    return f"{name[:1].upper()}{name[1:]}" if board.has_parts else name


def _issued(at: datetime, content: dict[str, Any], board: Board) -> str:
    zone, weather = content["time_zone"], [part.conditions for part in parts_of(content)]
    issued = f"Issued {day_and_clock(at, zone)} ({zone})"
    barometer = f"barometer at the track {hectopascal(weather[0]['barometer_kpa'])}"
    if board.has_parts:
        return (
            f"{issued}, {barometer}. Under each name: its time, air and track surface{_how_known(weather)}."
        )
    if len(weather) > 1:
        return (
            f"{issued} for all that is left of the day: air {_from_to(weather, 'air_c')}, track surface "
            f"{_from_to(weather, 'track_surface_c')}{_how_known(weather)}, {barometer}."
        )
    (known,) = weather
    surface = known["track_surface_c"]
    return (
        f"{issued} for air {temperature(known['air_c'], 'C')} ({temperature(known['air_c'], 'F')}) and track surface "
        f"{temperature(surface, 'C')} ({temperature(surface, 'F')}, {known['track_surface_standing']}) at "
        f"{clock(datetime.fromisoformat(known['holds_at']), zone)}, {barometer}."
    )


def _from_to(weather: list[dict[str, Any]], name: str) -> str:
    values = [one[name] for one in weather]
    low, high = min(values), max(values)
    return f"{_degrees(low, high, 'C')} ({_degrees(low, high, 'F')})"


def _degrees(low: float, high: float, unit: str) -> str:
    return _span([temperature(low, unit), temperature(high, unit)])


def _how_known(weather: list[dict[str, Any]]) -> str:
    """Return which of the parts' weather is not observed."""
    said = []
    if any(one["standing"] == Standing.FORECAST for one in weather):
        said.append(
            "as forecast" if weather[0]["standing"] == Standing.FORECAST else "later ones as forecast"
        )
    if any(one["track_surface_standing"] == Standing.ESTIMATED for one in weather):
        said.append("the track surface estimated where nobody measured it")
    return "".join(f", {words}" for words in said)


def _notes(content: dict[str, Any], board: Board) -> list[str]:
    warmer = content["warmer_kpa_per_c"]
    said = [
        warmer
        and f"Each 5{SPACE}°C a tire is warmer, from the sun or an earlier session: {for_warmer(warmer, 5)} more.",
        f"Below each figure: where it lies with 80{SPACE}% probability, and bar.",
        board.has_limits and "L: held at the maker's limit.",
        any(is_by_hand(line) for line in content["lines"])
        and "H: set by hand by the organiser, in the place of the computed figure.",
        any(line.get("is_beyond_range") for line in content["lines"])
        and "One figure or more leaves the range the maker allows: ask the event director before you set it.",
        board.is_thin and "*: no reading of this tire yet, common practice only.",
    ]
    return [sentence for sentence in said if sentence]


def _row(row: BoardRow) -> Row:
    return Row(
        tire=f"{row.axle.title()}{', off warmers' if row.uses_warmers else ''}",
        groups=", ".join(row.groups),
        size=f"{row.size} {row.compound}".strip(),
        hot=_span(pressure_figure(kpa, "psi") for kpa in sorted(row.hot_targets_kpa)),
        hot_bar=f"{_span(pressure_figure(kpa, 'bar') for kpa in sorted(row.hot_targets_kpa))}{SPACE}bar",
        cells=[_cell(line) if line else None for line in row.cells],
    )


def _span(figures: Iterable[str]) -> str:
    """Return the first and the last of some figures, or the one they all are."""
    found = list(figures)
    return found[0] if found[0] == found[-1] else f"{found[0]}{DASH}{found[-1]}"


def _cell(line: dict[str, Any]) -> Cell:
    low, high = pressure_figure(line["low_kpa"], "psi"), pressure_figure(line["high_kpa"], "psi")
    return Cell(
        start=pressure_figure(line["shown_kpa"], "psi"),
        limit="L" if line["limit_hit"] else "H" if is_by_hand(line) else "",
        span=f"{low}\N{EN DASH}{high}{'' if line['readings'] else '*'}",
        bar=pressure(line["shown_kpa"], "bar"),
    )
