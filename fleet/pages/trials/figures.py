"""Figures of tire tests as a person reads them: template filters."""

import math
from typing import Any, Final

from django import template

from fleet.pages.trials.stance import with_sign
from fleet.pages.units import SPACE

register = template.Library()

MICROMETERS: Final = 1000.0
SURE: Final = 0.001
UNKNOWN: Final = "\N{EN DASH}"


@register.filter
def seconds(value: float) -> str:
    """Return seconds to the hundredth, or a dash for what is not known."""
    return UNKNOWN if math.isnan(value) else f"{value:.2f}"


@register.filter
def signed_seconds(value: float) -> str:
    """Return a difference in seconds with its sign."""
    return UNKNOWN if math.isnan(value) else with_sign(value, 2)


@register.filter
def within(found: Any) -> str:
    """Return the interval of an estimate with the probability it holds."""
    low = getattr(found, "low_s", None) if hasattr(found, "low_s") else found.low
    high = getattr(found, "high_s", None) if hasattr(found, "high_s") else found.high
    if low is None or high is None or math.isnan(low) or math.isnan(high):
        return "too few laps for an interval"
    return f"{with_sign(low, 2)} to {with_sign(high, 2)} with {found.level:.0%}"


@register.filter
def chance(p_value: float) -> str:
    """Return a probability of luck in percent."""
    if math.isnan(p_value):
        return "not known"
    return f"under 0.1{SPACE}%" if p_value < SURE else f"{100 * p_value:.1f}{SPACE}%"


@register.filter
def micrometers(value_mm: float) -> str:
    """Return a small length in thousandths of a mm."""
    return f"{value_mm * MICROMETERS:.0f}".replace("-", "\N{MINUS SIGN}")


@register.filter
def run_choices(names: str, between: dict[str, Any]) -> list[tuple[str, str, Any]]:
    """Return the two controls that choose runs: name, label and the run chosen."""
    labels = {"first": "One run", "second": "Another run"}
    return [(name, labels[name], between[name]) for name in names.split()]
