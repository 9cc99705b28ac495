"""The report of a tire test: two to four pages a vendor would hand to a customer; every word of it made once."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from django.http import HttpResponse
from django.utils.safestring import SafeString

from fleet.catalogue.models import AXLES
from fleet.pages.printing.typesetting import answer_with, pdf_of
from fleet.pages.trials.drawings import lap_chart, outline_drawing, stance_drawing
from fleet.pages.trials.figures import chance, micrometers, seconds, signed_seconds, within
from fleet.pages.trials.judge import told
from fleet.pages.trials.stance import shown, with_sign
from fleet.pages.units import (
    day_of,
    depth_figure,
    depth_sign,
    distance,
    pressure,
    pressure_figure,
    pressure_sign,
    temperature,
)
from fleet.trials.log import Ridden
from fleet.trials.models import Part, Side, TireTest

DASH: Final = "\N{EN DASH}"
CAUTIONS: Final = (
    "This report tells of one bike, one rider and one track; yours will differ. The tire maker's published range and "
    "the bike's placard come first, and a qualified person decides.",
    "Start pressures are starting points. Check with your own gauge, and reset track pressures before riding home.",
    "New tires are slippery: scrub in, build up over the first laps.",
    "Fitting is work for a trained person; axle and pinch bolts to the maker's torque, pump the brake before moving off.",
    "Tread at or under the legal limit is not road legal; local law decides.",
)
INK: Final = {
    "axis": 'fill="none" stroke="#000" stroke-width="1"',
    "tick": 'fill="none" stroke="#000" stroke-width="1"',
    "tick-label": 'font-size="12" fill="#000" font-family="Atkinson Hyperlegible Next"',
    "stance-lines ": 'fill="none" stroke="#000" stroke-width="2"',
    "stance-lines is-ghost": 'fill="none" stroke="#555" stroke-width="1" stroke-dasharray="2 3"',
    "stance-steer": 'stroke-width="1" stroke-dasharray="5 3"',
    "stance-trail": 'fill="none" stroke="#000" stroke-width="4"',
    "outline is-ghost": 'fill="none" stroke="#000" stroke-width="1.5" stroke-dasharray="5 4"',
    "outline": 'fill="none" stroke="#000" stroke-width="2"',
    "median": 'fill="none" stroke="#000" stroke-width="2.5"',
    "is-before": 'fill="#000"',
    "is-after": 'fill="#777"',
    "lap": 'stroke="#000" stroke-width="1"',
    "lap is-aside": 'fill="#fff" stroke="#000" stroke-width="1"',
}
"""How the lines of a drawing look on paper, where there is no style sheet."""


@dataclass(frozen=True)
class Table:
    """A table: its columns, the first one naming the row, and its rows as words."""

    columns: list[str]
    rows: list[list[str]]

    @property
    def labelled_rows(self) -> list[list[tuple[str, str]]]:
        """Return every cell with its column, for a table that unfolds where the page is narrow."""
        return [list(zip(self.columns, row, strict=True)) for row in self.rows]


@dataclass(frozen=True)
class Picture:
    """A drawing with the words that stand for it and under it; ``on_page`` is for a browser, ``svg`` for paper."""

    on_page: SafeString
    svg: str
    alt: str
    caption: str


@dataclass(frozen=True)
class Section:
    """One part of the report."""

    heading: str
    is_own_words: bool
    pictures: list[Picture]
    tables: list[Table]
    sentences: list[str]


@dataclass(frozen=True)
class Report:
    """Every word of a report, in the order it is read."""

    title: str
    about: str
    facts: list[list[str]]
    sections: list[Section]
    cautions: list[str]

    @property
    def words(self) -> dict[str, Any]:
        """Return the words for the typesetter, the drawings as they look on paper."""
        found = asdict(self)
        for section in found["sections"]:
            for picture in section["pictures"]:
                del picture["on_page"]
        return found


def report_of(test: TireTest, parts: Iterable[str], *, reader: Any = None, is_public: bool = False) -> Report:
    """Return the report of a test with the parts chosen, in the reader's units; a public one names no rider."""
    stood, ran = shown(test), told(test)
    made: dict[str, Callable[[], Section]] = {
        Part.VERDICT: lambda: _verdict(test),
        Part.GEOMETRY: lambda: _geometry(stood),
        Part.OUTLINES: lambda: _outlines(stood),
        Part.PRESSURES: lambda: _pressures(ran, reader),
        Part.LAPS: lambda: _laps(ran),
        Part.WEAR: lambda: _wear(ran, reader),
        Part.FEEL: lambda: _feel(ran),
    }
    return Report(
        title=test.question,
        about=f"Tire test by {test.organisation.name}",
        facts=_facts(test, ran["ridden"], reader, is_public=is_public),
        sections=[made[part]() for part in Part.values if part in set(parts)],
        cautions=list(CAUTIONS),
    )


def report_pdf(report: Report, *, name: str) -> HttpResponse:
    """Return a report as PDF."""
    return answer_with(pdf_of("report", report.words), name=name)


def _facts(test: TireTest, ridden: Sequence[Ridden], reader: Any, *, is_public: bool) -> list[list[str]]:
    weather = [one.weather for one in ridden if one.weather]
    bike = str(test.bike) if is_public else f"{test.bike}, {test.bike.rider}"
    days = sorted({one.stint.started_at.date() for one in ridden})
    rows = [
        ["Candidate", _set(test, Side.CANDIDATE)],
        ["Baseline", _set(test, Side.BASELINE)],
        ["On", bike],
        ["Where", str(test.layout or "not named")],
        ["When", ", ".join(day_of(day) for day in days) or day_of(test.planned_on)],
        ["Held constant", test.held_constant or "nothing noted"],
    ]
    if weather:
        rows.append(
            [
                "Weather",
                f"air {_span([one.air_c for one in weather], reader)}, "
                f"track surface {_span([one.track_surface_c for one in weather], reader)}",
            ]
        )
    return rows


def _span(values: Sequence[float], reader: Any) -> str:
    low, high = temperature(min(values), reader), temperature(max(values), reader)
    return low if low == high else f"{low} to {high}"


def _set(test: TireTest, side: Side) -> str:
    front, rear = test.specs(side.value).values()
    return f"{front} and {rear}"


def _verdict(test: TireTest) -> Section:
    said = [line for line in test.verdict.splitlines() if line.strip()]
    if test.final_remark:
        said.append(f"After the set came off: {test.final_remark}")
    words = said or ["No verdict yet: the test is not judged."]
    return Section(
        "The tester's verdict", is_own_words=bool(test.verdict), pictures=[], tables=[], sentences=words
    )


def _geometry(stood: dict[str, Any]) -> Section:
    stance = stood["stance"]
    pictures = [
        _picture(stance_drawing(stance, side.value), f"{side.label} set", note)
        for side, note in (
            (Side.BASELINE, "Baseline."),
            (Side.CANDIDATE, "Candidate over the baseline in dashes, changes drawn ten times as large."),
        )
        if stance.before
    ]
    sentences = [
        f"{wheel.axle.capitalize()} radius change {with_sign(wheel.change_mm, 1)} \N{PLUS-MINUS SIGN} {wheel.sd_mm:.1f} mm, from "
        f"{wheel.known_from}."
        for wheel in stance.wheels.values()
    ]
    for way in stance.ways:
        moved = f"{abs(way.move_mm):.1f} mm"
        up = way.move_mm >= 0
        what = (
            f"the fork legs {moved} {'up' if up else 'down'} in the clamps"
            if way.adjuster == "fork"
            else f"the rear {moved} {'higher' if up else 'lower'} at the axle"
        )
        sentences.append(
            f"The old rake comes back with {what}; {with_sign(way.trail_left_mm, 1)} mm of trail are left over."
        )
    if stance.missing:
        sentences.append(
            f"Not known of this bike: {', '.join(stance.missing)}; so rake and trail are not told."
        )
    table = Table(["What", "Baseline", "Candidate", "Change"], [list(row) for row in stood["figures"]])
    return Section("Geometry", is_own_words=False, pictures=pictures, tables=[table], sentences=sentences)


def _outlines(stood: dict[str, Any]) -> Section:
    pictures, tables, sentences = [], [], []
    for one in stood["outlines"]:
        name = one.axle.capitalize()
        if one.overlay is None:
            sentences.append(f"{name}: not measured on both sets.")
            continue
        caption = (
            f"{name}: candidate as a line, baseline in dashes. Crown radius {one.before.crown_radius_mm:.1f} to "
            f"{one.after.crown_radius_mm:.1f} mm: {one.overlay.crown}."
        )
        pictures.append(_picture(outline_drawing(one), f"{name} outlines laid over each other", caption))
        rows = [
            [f"{lean.deg}\N{DEGREE SIGN}", *(_figure(value) for cell in lean.cells for value in _at(cell))]
            for lean in one.leans
            if any(value is not None for cell in lean.cells for value in _at(cell))
        ]
        heads = ["radius, mm", "shift, mm", "extra lean, \N{DEGREE SIGN}"]
        columns = [f"{name} at lean", *(f"{side.label} {head}" for side in Side for head in heads)]
        tables.append(Table(columns, rows))
    return Section("Outlines", is_own_words=False, pictures=pictures, tables=tables, sentences=sentences)


def _at(cell: Any) -> tuple[float | None, ...]:
    return cell.rolling_radius_mm, cell.shift_mm, cell.extra_lean_deg


def _figure(value: float | None) -> str:
    return DASH if value is None else f"{value:.1f}"


def _pressures(ran: dict[str, Any], reader: Any) -> Section:
    rows = [
        [
            f"{one.run.get_side_display()}, {one.run.get_purpose_display().lower()}",
            *(
                f"{_kpa(one.set_kpa.get(axle), reader)} to {_kpa(one.hot_kpa.get(axle), reader)}"
                for axle in AXLES
            ),
        ]
        for one in ran["ridden"]
    ]
    sign = pressure_sign(reader)
    tables = [Table(["Run", f"Front, set to hot, {sign}", f"Rear, set to hot, {sign}"], rows)] if rows else []
    grown = {(one.run.side, axle): value for one in ran["ridden"] for axle, value in one.growth_kpa.items()}
    sentences = [
        f"{Side(side).label}, {axle}: grew by {pressure(value, reader)} in the last run."
        for (side, axle), value in grown.items()
    ]
    return Section(
        "Pressures", is_own_words=False, pictures=[], tables=tables, sentences=sentences or ["Not read."]
    )


def _kpa(value: float | None, reader: Any) -> str:
    return DASH if value is None else pressure_figure(value, reader)


def _laps(ran: dict[str, Any]) -> Section:
    laps = ran["laps"]
    rows = [
        [
            one.ridden.run.get_side_display(),
            f"{one.laps.count} of {one.laps.ridden}",
            seconds(one.laps.median_s),
            seconds(one.laps.spread_s),
            signed_seconds(one.laps.drift_s.value),
        ]
        for one in laps.runs
    ]
    sentences = list(ran["lacks"])
    for one in laps.compared:
        sentences.append(
            f"{one.says} Candidate less baseline {signed_seconds(one.shift_s)} s a lap ({within(one)}); chance of so "
            f"much by luck alone {chance(one.found.plain.p_value)}."
        )
        sentences += [doubt.text for doubt in one.found.doubts]
    if laps.came_back:
        sentences.append("Back on the first set the lap times came back too: that was not the track.")
    columns = ["Run", "Laps that count", "Median, s", "Spread, s", "Drift, s a lap"]
    pictures = (
        [
            _picture(
                lap_chart(ran["lap_rows"]),
                "Lap times in order",
                "Seconds a lap; the bar is the median, hollow laps are set aside.",
            )
        ]
        if rows
        else []
    )
    tables = [Table(columns, rows)] if rows else []
    return Section("Laps", is_own_words=False, pictures=pictures, tables=tables, sentences=sentences)


def _wear(ran: dict[str, Any], reader: Any) -> Section:
    rows = [
        [
            f"{side.label}, {axle}, {one.zone}",
            depth_figure(one.first_mm, reader),
            depth_figure(one.last_mm, reader),
            str(one.laps),
            DASH
            if one.per_lap_mm is None
            else f"{micrometers(one.per_lap_mm)} \N{PLUS-MINUS SIGN} {micrometers(one.per_lap_sd_mm)}",
        ]
        for side, by_axle in ran["wear"]
        for axle, zones in by_axle.items()
        for one in zones
    ]
    ran_on = [
        f"{one.side}, {one.axle}: {distance(one.track_km, reader)} on track in {one.days} day{'' if one.days == 1 else 's'}"
        f"{f', {distance(one.road_km, reader)} on the road' if one.road_km else ''}, "
        f"{'still on' if one.is_on else 'removed' + (f' ({one.reason.lower()})' if one.reason else '')}."
        for one in ran["followed"]
    ]
    sign = depth_sign(reader)
    columns = ["Zone", f"First, {sign}", f"Last, {sign}", "Laps between", "Lost a lap, \N{MICRO SIGN}m"]
    tables = [Table(columns, rows)] if rows else []
    return Section(
        "Wear",
        is_own_words=False,
        pictures=[],
        tables=tables,
        sentences=[*([] if rows else ["No zone was read twice."]), *ran_on],
    )


def _feel(ran: dict[str, Any]) -> Section:
    sentences = []
    for side, felt in ran["feel"]:
        said = "; ".join(words + (f" ({count} times)" if count > 1 else "") for words, count in felt)
        sentences.append(f"{side.label}: {said or 'nothing noted'}.")
    for side, notes in ran["surface"]:
        sentences += [
            f"{side.label}, {axle} tread{f', {note.get_zone_display().lower()}' if note.zone else ''}: "
            f"{note.get_look_display().lower()}{f', {note.words}' if note.words else ''}."
            for axle, note in notes
        ]
    return Section("Feel", is_own_words=False, pictures=[], tables=[], sentences=sentences)


def _picture(drawing: SafeString, alt: str, caption: str) -> Picture:
    return Picture(drawing, on_paper(drawing), alt, caption)


def on_paper(drawing: str) -> str:
    """Return a drawing with its looks written into it."""
    plain = re.sub(
        r'class="([^"]*)"', lambda found: INK.get(found[1], 'xmlns="http://www.w3.org/2000/svg"'), drawing
    )
    return plain.replace("<svg xmlns=", "<svg xmlns=")
