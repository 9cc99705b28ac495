"""Pictures as plain SVG made on the server: they print, need no script, and stand beside a table with the same numbers."""

from dataclasses import dataclass
from typing import Final

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

register = template.Library()

TOPS: Final = (2, 4, 6, 8, 12, 16, 24)
WIDTH: Final = 320
LEFT: Final = 6
RIGHT: Final = 314


@dataclass(frozen=True)
class Frame:
    """The box a chart is drawn in and the values at its edges."""

    left: float
    right: float
    top: float
    bottom: float
    x_high: float
    y_high: float

    def x(self, value: float) -> float:
        """Return where a value lies across."""
        inside = min(max(value / self.x_high, 0.0), 1.0)
        return round(self.left + (self.right - self.left) * inside, 1)

    def y(self, value: float) -> float:
        """Return where a value lies, counted from the top."""
        inside = min(max(value / self.y_high, 0.0), 1.0)
        return round(self.bottom - (self.bottom - self.top) * inside, 1)


@dataclass(frozen=True)
class Series:
    """Readings of one zone along the distance of a tire."""

    name: str
    points: list[tuple[float, float]]


def top_for(longest: float) -> int:
    """Return the end of an axis in days that holds the longest span, as far as a scale makes sense."""
    return next((top for top in TOPS if longest <= top), TOPS[-1])


@register.simple_tag
def life_scale(low: float, middle: float, high: float, top: int, about: str) -> SafeString:
    """Return the days on track that are left: a band from the 10 to the 90 % point with the median in it."""
    frame = Frame(left=LEFT, right=RIGHT, top=0, bottom=0, x_high=top, y_high=1)
    step = 1 if top <= TOPS[3] else top // TOPS[1]
    ticks = format_html_join(
        "",
        '<path class="tick" d="M{0} 26v6"/><text class="tick-label" x="{0}" y="46" text-anchor="{1}">{2}</text>',
        (
            (frame.x(day), {0: "start", top: "end"}.get(day, "middle"), f"{day} days" if day == top else day)
            for day in range(0, top + 1, step)
            if day in {0, top} or day + step < top
        ),
    )
    open_end = format_html('<path class="beyond" d="{}"/>', "M306 8l7 6-7 6") if high > top else ""
    return format_html(
        '<svg class="scale" viewBox="0 0 {} 50" role="img" aria-label="{}">'
        '<path class="axis" d="M{} 26H{}"/>{}'
        '<rect class="band" x="{}" y="6" width="{}" height="16"/>'
        '<path class="median" d="M{} 2v24"/>{}</svg>',
        WIDTH,
        f"{about}: {middle:.1f} days on track left, 10 to 90 % between {low:.1f} and {high:.1f}",
        LEFT,
        RIGHT,
        ticks,
        frame.x(low),
        max(round(frame.x(high) - frame.x(low), 1), 2),
        frame.x(middle),
        open_end,
    )


MARKS: Final = (
    "M{x} {y}m-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0",
    "M{x} {y}m-3 -3h6v6h-6z",
    "M{x} {y}m0 -4l4 7h-8z",
    "M{x} {y}m0 -4.5l4.5 4.5l-4.5 4.5l-4.5 -4.5z",
    "M{x} {y}m-4 -1h3v-3h2v3h3v2h-3v3h-2v-3h-3z",
)


@dataclass(frozen=True)
class Band:
    """A line with its band: at each depth the distances low, middle and high, from new on."""

    points: list[tuple[float, float, float, float]]


@register.simple_tag
def tread_chart(
    series: list[Series], limit: float, new: float, sign: str, distance_sign: str, band: Band | None = None
) -> SafeString:
    """Return the depth of the tread by zone over the distance run, the fitted line with its band, and the wear limit."""
    furthest = max((x for one in series for x, _ in one.points), default=0.0)
    if band and band.points:
        last = band.points[-1]
        furthest = max(furthest, min(last[3], 1.3 * last[2]))
    furthest = furthest or 1.0
    frame = Frame(left=34, right=300, top=10, bottom=150, x_high=furthest * 1.05, y_high=new * 1.1)
    return format_html(
        '<svg class="plot" viewBox="0 0 {} 182" role="img" aria-label="{}">'
        '<path class="axis" d="M34 10V150H300"/>{}{}{}'
        '<path class="limit" d="M34 {}H300"/><text class="tick-label" x="300" y="{}" text-anchor="end">limit</text>'
        '{}<text class="tick-label" x="300" y="180" text-anchor="end">{}</text>'
        '<text class="tick-label" x="2" y="9">{}</text></svg>',
        WIDTH,
        f"Tread depth by zone over {furthest:.0f} {distance_sign}; the table beside has the readings",
        _depth_ticks(frame, new),
        _distance_ticks(frame, furthest),
        _band(frame, band, new),
        frame.y(limit),
        frame.y(limit) - 4,
        format_html_join("", "{}", ((_line(frame, place, one),) for place, one in enumerate(series))),
        distance_sign,
        sign,
    )


@register.simple_tag
def zone_mark(place: int) -> SafeString:
    """Return the mark of one zone, for the table beside a tread chart."""
    return format_html(
        '<svg class="mark" viewBox="0 0 12 12" aria-hidden="true"><path d="{}"/></svg>',
        MARKS[place % len(MARKS)].format(x=6, y=6),
    )


def _band(frame: Frame, band: Band | None, new: float) -> SafeString:
    """Return the band as a surface and its median as a line, both from new down."""
    if band is None or not band.points:
        return SafeString("")
    low, middle, high = (
        [(frame.x(point[place]), frame.y(point[0])) for point in band.points] for place in (1, 2, 3)
    )
    start = (frame.x(0.0), frame.y(new))
    outline = "L".join(f"{x} {y}" for x, y in [start, *low, *reversed(high)])
    line = "L".join(f"{x} {y}" for x, y in [start, *middle])
    return format_html('<path class="band" d="M{}Z"/><path class="fit" d="M{}"/>', outline, line)


def _line(frame: Frame, place: int, series: Series) -> SafeString:
    points = [(frame.x(x), frame.y(y)) for x, y in series.points]
    path = "M" + "L".join(f"{x} {y}" for x, y in points) if points else ""
    marks = format_html_join(
        "",
        '<path class="reading" d="{}"/>',
        ((MARKS[place % len(MARKS)].format(x=x, y=y),) for x, y in points),
    )
    return format_html('<path class="zone-line" d="{}"/>{}', path, marks)


def _depth_ticks(frame: Frame, new: float) -> SafeString:
    return format_html_join(
        "",
        '<path class="tick" d="M30 {0}h4"/><text class="tick-label" x="27" y="{1}" text-anchor="end">{2}</text>',
        (
            (frame.y(depth), frame.y(depth) + 4, depth)
            for depth in range(0, int(new) + 1, 1 if new <= TOPS[3] else 2)
        ),
    )


def _distance_ticks(frame: Frame, furthest: float) -> SafeString:
    marks = [0.0, furthest / 2, furthest]
    return format_html_join(
        "",
        '<path class="tick" d="M{0} 150v4"/><text class="tick-label" x="{0}" y="166" text-anchor="middle">{1}</text>',
        ((frame.x(mark), f"{mark:.0f}") for mark in marks),
    )
