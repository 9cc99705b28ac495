"""The weather of a day as one picture: air and track surface by the hour, observed and forecast."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.events.models import Conditions, Standing
from fleet.pages.charts import MARKS
from fleet.pages.units import temperature_unit
from fleet.quantities import Unit

register = template.Library()

LEFT: Final = 36
RIGHT: Final = 352
TOP: Final = 12
BOTTOM: Final = 150
WIDTH: Final = 360
STEP: Final = 5
MOST_HOUR_LABELS: Final = 7


@dataclass(frozen=True)
class Curve:
    """One quantity, observed or forecast, over the hours of the day."""

    what: str
    is_observed: bool
    points: list[tuple[float, float]]

    @property
    def name(self) -> str:
        """Return what the curve shows, in words."""
        return f"{self.what}, {'observed' if self.is_observed else 'forecast'}"


@dataclass(frozen=True)
class Scale:
    """Where hours and degrees lie."""

    first: float
    last: float
    low: float
    high: float

    def x(self, hour: float) -> float:
        """Return where an hour lies across."""
        return round(LEFT + (RIGHT - LEFT) * (hour - self.first) / (self.last - self.first), 1)

    def y(self, degrees: float) -> float:
        """Return where a temperature lies, counted from the top."""
        return round(BOTTOM - (BOTTOM - TOP) * (degrees - self.low) / (self.high - self.low), 1)


def curves_of(reports: Iterable[Conditions], *, zone: str, unit: Unit) -> list[Curve]:
    """Return the curves of a day's reports; of several forecasts for one moment the one recorded last counts."""
    local = ZoneInfo(zone)
    newest: dict[tuple[bool, Any], Conditions] = {}
    for one in sorted(reports, key=lambda one: one.recorded_at):
        newest[one.standing == Standing.OBSERVED, one.holds_at] = one
    found: dict[tuple[str, bool], list[tuple[float, float]]] = {}
    for (is_observed, moment), one in sorted(newest.items(), key=lambda item: item[0][1]):
        clock = moment.astimezone(local)
        hour = clock.hour + clock.minute / 60
        for what, value in (("air", one.air_c), ("track surface", one.track_surface_c)):
            found.setdefault((what, is_observed), []).append((hour, unit.shown(value)))
    return [
        Curve(what, is_observed, points)
        for (what, is_observed), points in sorted(found.items(), reverse=True)
    ]


@register.simple_tag
def weather_chart(reports: list[Conditions], day: Any, person: Any) -> SafeString:
    """Return the picture of a day's weather, its legend under it; nothing where there are fewer than two moments."""
    zone, unit = day.layout.track.time_zone, temperature_unit(person)
    on_day = [one for one in reports if one.holds_at.astimezone(ZoneInfo(zone)).date() == day.date]
    curves = curves_of(on_day, zone=zone, unit=unit)
    hours = [hour for curve in curves for hour, _ in curve.points]
    if len(set(hours)) < 2:  # noqa: PLR2004 - a curve needs two
        return SafeString("")
    degrees = [value for curve in curves for _, value in curve.points]
    scale = Scale(
        math.floor(min(hours)),
        math.ceil(max(hours) + 1e-9),
        math.floor(min(degrees) / STEP) * STEP,
        math.ceil(max(degrees) / STEP + 1e-9) * STEP,
    )
    return format_html(
        '<figure class="day-weather"><svg class="plot" viewBox="0 0 {} 178" role="img" aria-label="{}">'
        '<path class="axis" d="M{} {}V{}H{}"/>{}{}{}<text class="tick-label" x="42" y="10">{}</text></svg>'
        "<figcaption>{}</figcaption></figure>",
        WIDTH,
        f"Air and track surface from {scale.first:.0f}:00 to {scale.last:.0f}:00; the table beside has the numbers",
        LEFT, TOP, BOTTOM, RIGHT,
        _degrees(scale),
        _hours(scale),
        format_html_join("", "{}", ((_curve(scale, curve),) for curve in curves)),
        unit.sign,
        format_html_join("", "{}", ((_legend(curve),) for curve in curves)),
    )  # fmt: skip


def _curve(scale: Scale, curve: Curve) -> SafeString:
    points = [(scale.x(hour), scale.y(value)) for hour, value in curve.points]
    path = "M" + "L".join(f"{x} {y}" for x, y in points)
    marks = format_html_join("", '<path class="reading" d="{}"/>', ((_mark(curve, x, y),) for x, y in points))
    return format_html(
        '<path class="{}" d="{}"/>{}', _line_class(curve), path, marks if curve.is_observed else ""
    )


def _line_class(curve: Curve) -> str:
    if curve.is_observed:
        return "zone-line"
    return "zone-line is-forecast" if curve.what == "air" else "zone-line is-forecast is-dotted"


def _mark(curve: Curve, x: float, y: float) -> str:
    return MARKS[0 if curve.what == "air" else 1].format(x=x, y=y)


def _legend(curve: Curve) -> SafeString:
    mark = format_html('<path class="reading" d="{}"/>', _mark(curve, 18, 7)) if curve.is_observed else ""
    return format_html(
        '<span><svg class="day-weather-key" viewBox="0 0 36 14" aria-hidden="true"><path class="{}" d="M2 7H34"/>{}</svg>{}</span>',
        _line_class(curve),
        mark,
        curve.name.capitalize(),
    )


def _degrees(scale: Scale) -> SafeString:
    span = scale.high - scale.low
    step = STEP * max(1, math.ceil(span / STEP / 6))
    return format_html_join(
        "",
        '<path class="tick" d="M32 {0}h4"/><text class="tick-label" x="29" y="{1}" text-anchor="end">{2}</text>',
        (
            (scale.y(mark), scale.y(mark) + 4, mark)
            for mark in range(int(scale.low), int(scale.high) + 1, step)
        ),
    )


def _hours(scale: Scale) -> SafeString:
    span = int(scale.last - scale.first)
    step = max(1, math.ceil(span / (MOST_HOUR_LABELS - 1)))
    return format_html_join(
        "",
        '<path class="tick" d="M{0} 150v4"/><text class="tick-label" x="{0}" y="168" text-anchor="middle">{1}</text>',
        (
            (scale.x(hour), f"{hour:02d}" if hour != scale.first else f"{hour}:00")
            for hour in range(int(scale.first), int(scale.last) + 1, step)
        ),
    )
