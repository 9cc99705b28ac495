"""Before and after: how the bike stands on both sets, what would bring the old stance back, and both outlines."""

import uuid
from typing import Any

from django import template
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.catalogue.models import AXLES
from fleet.pages.asking import person_of
from fleet.pages.trials.reaching import about, test_seen
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import Lengths, lengths_of, sets_of
from fleet.trials.shapes import LEANS_DEG, USUAL_MASS_HEIGHT_MM, Outlines, outlines_of
from fleet.trials.stance import Stance, stance_of

register = template.Library()


@require_safe
def stance(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the geometry and the outlines of both sets."""
    test = test_seen(person_of(request), pk)
    context = about(request, test)
    if context["is_open"]:
        context |= shown(test)
    return render(request, "pages/trials/stance.html", context)


def shown(test: TireTest) -> dict[str, Any]:
    """Return geometry and outlines of a test as the pages and the report show them."""
    sets = sets_of(test)
    lengths = {side: lengths_of(one) for side, one in sets.items()}
    found = stance_of(test, sets, lengths)
    return {
        "stance": found,
        "figures": figures_of(found),
        "heights": heights_of(lengths),
        "outlines": [_outlines(axle, test, lengths, found) for axle in AXLES],
        "leans": LEANS_DEG,
        "mass_height_mm": test.mass_height_mm or USUAL_MASS_HEIGHT_MM,
        "is_mass_height_usual": test.mass_height_mm is None,
        "sets": sets,
    }


def _outlines(axle: str, test: TireTest, lengths: dict[str, Lengths], found: Stance) -> Outlines:
    wheel = found.wheels[axle]
    return outlines_of(
        axle,
        lengths[Side.BASELINE].contours.get(axle),
        lengths[Side.CANDIDATE].contours.get(axle),
        radii_mm=(wheel.before_mm, wheel.after_mm),
        mass_height_mm=test.mass_height_mm,
    )


def figures_of(found: Stance) -> list[tuple[str, str, str, str]]:
    """Return the geometry as lines of a table: what, on the baseline, on the candidate, the change."""
    rows = [
        (f"{axle.capitalize()} radius, mm", wheel.before_mm, wheel.after_mm, 1)
        for axle, wheel in found.wheels.items()
    ]
    if found.before and found.after:
        for label, name, places in (
            ("Rake, °", "rake_deg", 2),
            ("Trail, mm", "trail_mm", 1),
            ("Normal trail, mm", "normal_trail_mm", 1),
            ("Wheelbase, mm", "wheelbase_mm", 1),
        ):
            rows.append((label, getattr(found.before, name), getattr(found.after, name), places))
    lines = [
        (label, f"{was:.{places}f}", f"{now:.{places}f}", with_sign(now - was, places))
        for label, was, now, places in rows
    ]
    if found.pitch_deg is not None:
        lines.append(("Pitch, ° (nose up is +)", "", "", with_sign(found.pitch_deg, 2)))
    was, now = float(found.ratio.before), float(found.ratio.after)
    lines.append(
        (
            "Front to rear rolling ratio",
            f"{was:.4f}",
            f"{now:.4f}",
            f"{with_sign(float(found.ratio.change_percent), 2)} %",
        )
    )
    lines.append(("Overall gearing", "", "", f"{with_sign(found.gearing_percent, 2)} %"))
    return lines


def heights_of(lengths: dict[str, Lengths]) -> list[tuple[str, float | None, float | None]]:
    """Return the ride heights as read on both sets, for beside what the geometry says."""
    rows = []
    for axle in AXLES:
        was, now = (lengths[side].mm(axle, "ride_height") for side in Side.values)
        rows.append((f"{axle.capitalize()} ride height, mm", was, now))
    return [(label, was, now) for label, was, now in rows if was is not None or now is not None]


@register.filter
def absolute(value: float) -> float:
    """Return a length without its sign, the direction being said in words."""
    return abs(value)


@register.filter
def change_mm(value: float) -> str:
    """Return a change of a length in mm with its sign."""
    return with_sign(value, 1)


@register.filter
def change_percent(value: float) -> str:
    """Return a change in percent with its sign."""
    return f"{with_sign(value, 2)} %"


def with_sign(value: float, places: int) -> str:
    """Return a change with its sign; one that rounds to nothing has none."""
    text = f"{value:+.{places}f}"
    return f"{0:.{places}f}" if float(text) == 0 else text.replace("-", "\N{MINUS SIGN}")
