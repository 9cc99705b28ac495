"""Values as a person reads them: template filters from SI into the person's units, and the units themselves."""

from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import template

from fleet.quantities import DEPTH, DISTANCE, MINUS, PRESSURE, TEMPERATURE, Unit
from fleet.running.lap_times import as_lap

register = template.Library()

SPACE: Final = "\N{NO-BREAK SPACE}"
DAYS_PER_YEAR: Final = 365.2425
MONTHS_PER_YEAR: Final = 12
TEN: Final = 10
SECONDS_PER_MINUTE: Final = 60


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
def depth_figure(value: float | None, person: Any) -> str:
    """Return a tread depth as a bare number, its unit standing elsewhere."""
    return "not known" if value is None else depth_unit(person).figure(value)


@register.filter
def depth_sign(person: Any) -> str:
    """Return the sign of the unit of tread depth somebody reads."""
    return depth_unit(person).sign


@register.filter
def fine_depth(value: float, person: Any) -> str:
    """Return a small depth with its unit, two decimals."""
    unit = depth_unit(person)
    return f"{unit.shown(value):.2f}{SPACE}{unit.sign}"


@register.filter
def times(value: float, factor: int) -> float:
    """Return a value for a round number of times."""
    return value * factor


@register.filter
def distance(value: float | None, person: Any) -> str:
    """Return a distance with its unit."""
    return _with_sign(value, distance_unit(person))


@register.filter
def lap(seconds: float | None) -> str:
    """Return a lap time as a timing sheet writes it."""
    return "\N{EN DASH}" if seconds is None else as_lap(seconds)


@register.filter
def signed_seconds(seconds: float) -> str:
    """Return seconds with their sign."""
    return f"{seconds:+.2f}".replace("-", MINUS)


@register.filter
def seconds_apart(seconds: float) -> str:
    """Return how much quicker or slower a lap was, in words."""
    return f"{abs(seconds):.2f}{SPACE}s {'slower' if seconds > 0 else 'quicker'}"


@register.filter
def unlocalized(value: float | None) -> str:
    """Return a number for a form to send back unchanged, and nothing for none."""
    return "" if value is None else repr(float(value))


@register.filter
def hectopascal(value: float) -> str:
    """Return an air pressure as weather reports give it."""
    return f"{value * TEN:.0f}{SPACE}hPa"


@register.filter
def signed(value: int) -> str:
    """Return a whole number with its sign."""
    return f"{value:+d}".replace("-", MINUS)


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
def lap_time(seconds: float | None) -> str:
    """Return a lap time as minutes and seconds, tenths only where there are any."""
    if seconds is None:
        return ""
    minutes, rest = divmod(round(seconds, 1), SECONDS_PER_MINUTE)
    return f"{minutes:.0f}:{rest:04.1f}".removesuffix(".0")


@register.filter
def rests_on(basis: str) -> str:
    """Return what a start pressure rests on, in words."""
    return BASES.get(basis, in_words(basis))


@register.filter
def digest_words(digest: str) -> str:
    """Return the beginning of a digest in groups that two people can compare."""
    return " ".join(digest[start : start + 4] for start in range(0, 16, 4))


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
