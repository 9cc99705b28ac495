"""The bulletin for the wall: one A4 or letter page, black on white, read at arm's length."""

import json
from dataclasses import asdict, dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django.http import HttpResponse

from fleet.pages.boards import Board, BoardRow
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

SET_HOW = "Set, in psi, before the first session, on tires at air temperature."


@dataclass(frozen=True)
class Cell:
    """What one group sets on one tire: psi, whether a limit holds it, its span, and bar."""

    start: str
    limit: str
    span: str
    bar: str


@dataclass(frozen=True)
class Row:
    """One tire with its target and a cell for each group, empty where the group does not ride it."""

    tire: str
    size: str
    hot: str
    hot_bar: str
    cells: list[Cell | None]


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
        issued=_issued(bulletin.issued_at, content),
        set_how=SET_HOW,
        notes=_notes(content, board),
        columns=["Tire", "Hot target", *board.groups],
        parts=[Part(part.name, [_row(row) for row in part.rows]) for part in board.parts],
        cautions=list(content["cautions"]),
        digest=f"Digest of the content: {digest_words(bulletin.digest)}",
    )


def text_of_notice(notice: Notice, address: str) -> str:
    """Return a bulletin as plain text for a chat group: a tire a line, what each group sets, the cautions, where it stands."""
    lines = [f"{notice.number}: {notice.about}", notice.issued, "", notice.set_how]
    for part in notice.parts:
        lines += ["", part.name]
        for row in part.rows:
            told = [
                f"{group} {cell.start} {cell.limit}".strip()
                for group, cell in zip(notice.columns[2:], row.cells, strict=True)
                if cell
            ]
            lines.append(f"{row.tire} {row.size}: {', '.join(told)}")
    return "\n".join([*lines, "", *notice.notes, *notice.cautions, "", notice.digest, address, ""])


def pdf_of_notice(notice: Notice, *, paper: str, name: str) -> HttpResponse:
    """Return a bulletin as PDF; a public one, asked for by many, is set once."""
    return answer_with(_set(json.dumps(asdict(notice) | {"paper": paper})), name=name)


@lru_cache(maxsize=32)
def _set(words: str) -> bytes:
    return pdf_of("bulletin", json.loads(words))


def is_by_hand(line: dict[str, Any]) -> bool:
    """Return whether a line of a bulletin was set by hand; those issued before this was possible do not say."""
    return line.get("computed_kpa") is not None


def _issued(at: datetime, content: dict[str, Any]) -> str:
    weather, zone = content["conditions"], content["time_zone"]
    surface = weather["track_surface_c"]
    return (
        f"Issued {day_and_clock(at, zone)} ({zone}) for air {temperature(weather['air_c'], 'C')} "
        f"({temperature(weather['air_c'], 'F')}) and track surface {temperature(surface, 'C')} "
        f"({temperature(surface, 'F')}, {weather['track_surface_standing']}) at "
        f"{clock(datetime.fromisoformat(weather['holds_at']), zone)}, barometer at the track "
        f"{hectopascal(weather['barometer_kpa'])}."
    )


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
        size=f"{row.size} {row.compound}".strip(),
        hot=pressure_figure(row.hot_target_kpa, "psi"),
        hot_bar=pressure(row.hot_target_kpa, "bar"),
        cells=[_cell(line) if line else None for line in row.cells],
    )


def _cell(line: dict[str, Any]) -> Cell:
    low, high = pressure_figure(line["low_kpa"], "psi"), pressure_figure(line["high_kpa"], "psi")
    return Cell(
        start=pressure_figure(line["shown_kpa"], "psi"),
        limit="L" if line["limit_hit"] else "H" if is_by_hand(line) else "",
        span=f"{low}\N{EN DASH}{high}{'' if line['readings'] else '*'}",
        bar=pressure(line["shown_kpa"], "bar"),
    )
