"""Values as a person reads them: template filters from SI into the person's units, and the units themselves."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import template

from fleet.science.units import (
    bar_from_kpa,
    c_from_fahrenheit,
    fahrenheit_from_c,
    inch32_from_mm,
    kpa_from_bar,
    kpa_from_psi,
    mm_from_inch32,
    psi_from_kpa,
)

register = template.Library()

SPACE: Final = "\N{NO-BREAK SPACE}"
MINUS: Final = "\N{MINUS SIGN}"
KM_PER_MILE: Final = 1.609344
DAYS_PER_YEAR: Final = 365.2425
MONTHS_PER_YEAR: Final = 12
TEN: Final = 10


@dataclass(frozen=True)
class Unit:
    """A unit a person may read: its sign, how many decimals make sense, the step of its buttons, both conversions."""

    sign: str
    decimals: int
    step: float
    shown: Callable[[float], float]
    stored: Callable[[float], float]

    def figure(self, value: float) -> str:
        """Return an SI value as a number in this unit, without the sign of the unit."""
        return f"{self.shown(value):.{self.decimals}f}".replace("-", MINUS)


PRESSURE: Final = {
    "psi": Unit("psi", 1, 0.5, lambda v: float(psi_from_kpa(v)), lambda v: float(kpa_from_psi(v))),
    "bar": Unit("bar", 2, 0.02, lambda v: float(bar_from_kpa(v)), lambda v: float(kpa_from_bar(v))),
    "kPa": Unit("kPa", 0, 2.0, float, float),
}
TEMPERATURE: Final = {
    "C": Unit("°C", 0, 1.0, float, float),
    "F": Unit("°F", 0, 1.0, lambda v: float(fahrenheit_from_c(v)), lambda v: float(c_from_fahrenheit(v))),
}
DEPTH: Final = {
    "mm": Unit("mm", 1, 0.1, float, float),
    "32nds": Unit("/32 in", 1, 0.5, lambda v: float(inch32_from_mm(v)), lambda v: float(mm_from_inch32(v))),
}
DISTANCE: Final = {
    "km": Unit("km", 0, 1.0, float, float),
    "mi": Unit("mi", 0, 1.0, lambda v: v / KM_PER_MILE, lambda v: v * KM_PER_MILE),
}


def pressure_unit(person: Any) -> Unit:
    """Return the unit of pressure somebody reads; psi for those who never chose, or the one named by a text."""
    return PRESSURE[person if isinstance(person, str) else getattr(person, "pressure_unit", "psi")]


def temperature_unit(person: Any) -> Unit:
    """Return the unit of temperature somebody reads, or the one named by a text."""
    return TEMPERATURE[person if isinstance(person, str) else getattr(person, "temperature_unit", "C")]


def depth_unit(person: Any) -> Unit:
    """Return the unit of tread depth somebody reads."""
    return DEPTH[getattr(person, "depth_unit", "mm")]


def distance_unit(person: Any) -> Unit:
    """Return the unit of distance somebody reads."""
    return DISTANCE[getattr(person, "distance_unit", "km")]


def _with_sign(value: float | None, unit: Unit) -> str:
    return "not known" if value is None else f"{unit.figure(value)}{SPACE}{unit.sign}"


@register.filter
def pressure(value: float | None, person: Any) -> str:
    """Return a pressure with its unit."""
    return _with_sign(value, pressure_unit(person))


@register.filter
def pressure_figure(value: float | None, person: Any) -> str:
    """Return a pressure as a bare number, its unit standing elsewhere."""
    return "not known" if value is None else pressure_unit(person).figure(value)


@register.filter
def for_warmer(kpa_per_c: float, degrees_c: int) -> str:
    """Return how much more to set for a tire some degrees warmer, in psi and bar."""
    kpa = kpa_per_c * degrees_c
    return f"{pressure(kpa, 'psi')} ({pressure(kpa, 'bar')})"


@register.filter
def pressure_sign(person: Any) -> str:
    """Return the sign of the unit of pressure somebody reads."""
    return pressure_unit(person).sign


@register.filter
def pressure_change(value: float | None, person: Any) -> str:
    """Return how far a pressure moved, with its direction said by a sign."""
    unit = pressure_unit(person)
    if value is None:
        return "new"
    figure = unit.figure(abs(value))
    if float(figure) == 0:
        return "same"
    return f"{'+' if value > 0 else MINUS}{figure}"


@register.filter
def off_by(value: float, person: Any) -> str:
    """Return how far a gauge reads off, with its direction said in a word."""
    return f"{pressure(abs(value), person)} {'high' if value > 0 else 'low'}"


@register.filter
def temperature(value: float | None, person: Any) -> str:
    """Return a temperature with its unit."""
    return _with_sign(value, temperature_unit(person))


@register.filter
def depth(value: float | None, person: Any) -> str:
    """Return a tread depth with its unit."""
    return _with_sign(value, depth_unit(person))


@register.filter
def distance(value: float | None, person: Any) -> str:
    """Return a distance with its unit."""
    return _with_sign(value, distance_unit(person))


@register.filter
def hectopascal(value: float) -> str:
    """Return an air pressure as weather reports give it."""
    return f"{value * TEN:.0f}{SPACE}hPa"


@register.filter
def days(value: float) -> str:
    """Return a number of days on track: one decimal below ten, none above."""
    return f"{value:.1f}" if value < TEN else f"{value:.0f}"


@register.filter
def share(value: float) -> str:
    """Return a probability as a percentage that never pretends to be certain; 0 is a limit reached: no."""
    if value == 0:
        return "no"
    return f"{min(max(round(value * 100), 1), 99)}{SPACE}%"


@register.filter
def clock(moment: datetime, zone: str) -> str:
    """Return the time of day of a moment in a track's zone."""
    return f"{moment.astimezone(ZoneInfo(zone)):%H:%M}"


@register.filter
def day_and_clock(moment: datetime, zone: str) -> str:
    """Return the date and time of a moment in a track's zone."""
    local = moment.astimezone(ZoneInfo(zone))
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M}"


@register.filter
def short_day_and_clock(moment: datetime, zone: str) -> str:
    """Return the date and time of a moment in a track's zone in as few letters as a narrow table has room for."""
    local = moment.astimezone(ZoneInfo(zone))
    return f"{local.day} {local:%b %y, %H:%M}"


@register.filter
def day_of(moment: datetime | date, zone: str = "UTC") -> str:
    """Return a date, for a moment the one in a track's zone."""
    local = moment.astimezone(ZoneInfo(zone)) if isinstance(moment, datetime) else moment
    return f"{local:%a} {local.day} {local:%b %Y}"


@register.filter
def age(made_on: date | None, on: date) -> str:
    """Return how old something made on one day is on another, in months below two years."""
    if made_on is None:
        return "age not known"
    years = max((on - made_on).days, 0) / DAYS_PER_YEAR
    months = int(years * MONTHS_PER_YEAR)
    if months < 1:
        return "under a month old"
    if months < 2 * MONTHS_PER_YEAR:
        return f"{months} month{'s' if months > 1 else ''} old"
    return f"{years:.1f} years old"


BASES: Final = {
    "maker hot": "the maker's hot pressure",
    "maker cold": "the maker's cold pressure",
    "maker off-warmers": "the maker's pressure off the warmers",
    "reference notes": "reference notes",
    "practice": "common practice",
}


@register.filter
def rests_on(basis: str) -> str:
    """Return what a start pressure rests on, in words."""
    return BASES.get(basis, in_words(basis))


@register.filter
def in_words(text: str) -> str:
    """Return a stored code as plain words."""
    return text.replace("_", " ")


@register.filter
def beside(values: list[Any], names: list[str]) -> list[tuple[str, Any]]:
    """Return each value with its name, to loop over both in a template."""
    return list(zip(names, values, strict=True))


@register.filter
def words(text: str) -> list[str]:
    """Return the words of a text, to loop over in a template."""
    return text.split()
