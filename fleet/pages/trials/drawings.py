"""Line drawings of tire tests: the bike from its side, outlines laid over each other, laps in order."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.trials.shapes import Outlines
from fleet.trials.stance import Stance, Standing

register = template.Library()

WIDTH: Final = 320
SCALE: Final = 0.142
GROUND: Final = 150.0
MARGIN_MM: Final = 30.0
FORK_MM: Final = 640.0
EXAGGERATED: Final = 10.0


@dataclass(frozen=True)
class Side:
    """Where the points of a bike lie on the drawing; it looks to the right."""

    rear: tuple[float, float]
    front: tuple[float, float]
    head: tuple[float, float]
    foot: tuple[float, float]
    contact: float
    rear_r: float
    front_r: float


def placed(standing: Standing) -> Side:
    """Return where a bike's points lie: axles, the steering axis from the ground to the head, the front contact."""
    lean = math.radians(standing.rake_deg)
    left = MARGIN_MM + standing.rear_radius_mm
    front_mm = left + standing.wheelbase_mm

    def at(x_mm: float, up_mm: float) -> tuple[float, float]:
        return round(x_mm * SCALE, 1), round(GROUND - up_mm * SCALE, 1)

    behind = standing.fork_offset_mm
    head = (
        front_mm - FORK_MM * math.sin(lean) - behind * math.cos(lean),
        standing.front_radius_mm + FORK_MM * math.cos(lean) - behind * math.sin(lean),
    )
    return Side(
        rear=at(left, standing.rear_radius_mm),
        front=at(front_mm, standing.front_radius_mm),
        head=at(*head),
        foot=at(front_mm + standing.trail_mm, 0),
        contact=at(front_mm, 0)[0],
        rear_r=round(standing.rear_radius_mm * SCALE, 1),
        front_r=round(standing.front_radius_mm * SCALE, 1),
    )


@register.simple_tag
def stance_drawing(stance: Stance, side: str) -> SafeString:
    """Return the bike from its side on one of the sets; the candidate over the baseline, its changes ten times as large."""
    standing = stance.before if side == "baseline" else stance.after
    if standing is None or stance.before is None:
        return SafeString("")
    ghost = _lines(placed(stance.before), "is-ghost") if side == "candidate" else ""
    drawn = placed(_exaggerated(stance.before, standing))
    words = (
        f"Rake {standing.rake_deg:.2f} degrees, trail {standing.trail_mm:.1f} mm, "
        f"wheelbase {standing.wheelbase_mm:.0f} mm"
    )
    return format_html(
        '<svg class="stance" viewBox="0 0 {} 196" role="img" aria-label="The bike on the {} tires: {}">'
        '<path class="axis" d="M4 {}H316"/>{}{}'
        '<path class="stance-trail" d="M{} {}H{}"/>'
        '<text class="tick-label" x="{}" y="{}" text-anchor="end">rake {}°</text>'
        '<text class="tick-label" x="316" y="{}" text-anchor="end">trail {} mm</text>'
        '<text class="tick-label" x="4" y="{}">wheelbase {} mm</text></svg>',
        WIDTH,
        side,
        words,
        GROUND,
        ghost,
        _lines(drawn, ""),
        drawn.contact,
        GROUND + 4,
        drawn.foot[0],
        drawn.head[0] - 14,
        max(drawn.head[1] + 4, 14),
        f"{standing.rake_deg:.2f}",
        GROUND + 22,
        f"{standing.trail_mm:.1f}",
        GROUND + 40,
        f"{standing.wheelbase_mm:.0f}",
    )


def _exaggerated(before: Standing, standing: Standing) -> Standing:
    def more(name: str) -> float:
        was: float = getattr(before, name)
        is_now: float = getattr(standing, name)
        return was + EXAGGERATED * (is_now - was)

    return replace(
        standing,
        rake_deg=more("rake_deg"),
        front_radius_mm=more("front_radius_mm"),
        rear_radius_mm=more("rear_radius_mm"),
        trail_mm=more("trail_mm"),
    )


def _lines(side: Side, extra: str) -> SafeString:
    return format_html(
        '<g class="stance-lines {}"><circle cx="{}" cy="{}" r="{}"/><circle cx="{}" cy="{}" r="{}"/>'
        '<path d="M{} {}L{} {}L{} {}"/><path class="stance-steer" d="M{} {}L{} {}"/></g>',
        extra,
        *side.rear,
        side.rear_r,
        *side.front,
        side.front_r,
        *side.rear,
        *side.head,
        *side.front,
        *side.head,
        *side.foot,
    )


@register.simple_tag
def outline_drawing(outlines: Outlines) -> SafeString:
    """Return two outlines laid over each other at the crown, across and height to one scale."""
    overlay = outlines.overlay
    if overlay is None:
        return SafeString("")
    across, before, after = overlay.across_mm, overlay.before_mm, overlay.after_mm
    reach = max(abs(float(across[0])), abs(float(across[-1])))
    scale = 140.0 / reach
    depth = -min(float(before.min()), float(after.min())) * scale

    def path(heights: Sequence[float]) -> str:
        return "M" + "L".join(
            f"{160 + float(x) * scale:.1f} {12 - float(z) * scale:.1f}"
            for x, z in zip(across, heights, strict=True)
        )

    return format_html(
        '<svg class="stance" viewBox="0 0 {} {}" role="img" aria-label="{} outlines of both tires laid over each other '
        'at the crown; the table beside has the figures">'
        '<path class="tick" d="M160 4V{}"/><path class="outline is-ghost" d="{}"/><path class="outline" d="{}"/>'
        '<text class="tick-label" x="4" y="{}">left</text>'
        '<text class="tick-label" x="316" y="{}" text-anchor="end">right</text></svg>',
        WIDTH,
        round(depth + 36),
        outlines.axle.capitalize(),
        round(depth + 16),
        path(before.tolist()),
        path(after.tolist()),
        round(depth + 32),
        round(depth + 32),
    )


@dataclass(frozen=True)
class LapRow:
    """The laps of one run: its name, its times in order with whether each counts, and its median."""

    name: str
    times: list[tuple[float, bool]]
    median_s: float
    is_baseline: bool


@register.simple_tag
def lap_chart(rows: list[LapRow]) -> SafeString:
    """Return the lap times of the runs one after another, with the median of each; laps set aside are hollow."""
    times = [seconds for row in rows for seconds, counts in row.times if counts]
    if not times:
        return SafeString("")
    low, high = min(times), max(times)
    margin = max((high - low) * 0.15, 0.2)
    low, high = low - margin, high + margin
    total = sum(len(row.times) for row in rows) + len(rows) - 1
    step = 262.0 / max(total, 1)

    def y(seconds: float) -> float:
        return round(150 - 132 * min(max((seconds - low) / (high - low), 0.0), 1.0), 1)

    marks, place = [], 0.0
    for row in rows:
        start = 48 + place * step
        end = start + max(len(row.times) - 1, 0) * step
        dots = format_html_join(
            "",
            '<circle class="lap{}" cx="{}" cy="{}" r="3.5"/>',
            (
                ("" if counts else " is-aside", round(start + number * step, 1), y(seconds))
                for number, (seconds, counts) in enumerate(row.times)
            ),
        )
        marks.append(
            format_html(
                '<g class="{}">{}<path class="median" d="M{} {}H{}"/>'
                '<text class="tick-label" x="{}" y="168">{}</text></g>',
                "is-before" if row.is_baseline else "is-after",
                dots,
                round(start - 4, 1),
                y(row.median_s),
                round(end + 4, 1),
                round(start - 4, 1),
                row.name,
            )
        )
        place += len(row.times) + 1
    ticks = format_html_join(
        "",
        '<path class="tick" d="M38 {0}h4"/><text class="tick-label" x="36" y="{1}" text-anchor="end">{2}</text>',
        (
            (y(value), y(value) + 4, f"{value:.1f}")
            for value in (low + margin, (low + high) / 2, high - margin)
        ),
    )
    return format_html(
        '<svg class="plot laps" viewBox="0 0 {} 174" role="img" aria-label="Lap times in order, in seconds, with the '
        'median of each run; the table beside has the figures"><path class="axis" d="M42 8V150H314"/>{}{}</svg>',
        WIDTH,
        ticks,
        format_html_join("", "{}", ((mark,) for mark in marks)),
    )
