"""The report of a day's tires by spec: an A4 or letter page to hand on, on which no rider is named."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Final

from django.template.defaultfilters import pluralize

from fleet.accounts.models import Person
from fleet.events.models import Day
from fleet.pages.units import day_and_clock, day_of, fine_depth, pressure_change, pressure_sign, share
from fleet.pressures.tire_use import Half, Lasting, SpecUse

COLUMNS: Final = ("Tire", "Axle", "Entered", "Ridden", "Ended", "Hot, off", "Tread lost", "Expected")
NOTES: Final = (
    "Entered: tires on entered bikes, by the last draft. Ridden: of those and of others of the day, tires with a logged stint. "
    "Ended: came to a limit or a hold on the day.",
    "Hot, off: the median of the hot pressures read less what the bulletin in force expected, of stints that set what it said.",
    "Tread lost and expected: one value a rider, the median and the middle half; told from five riders on who read "
    "their tread before and after the day. Expected is what was known the evening before, for the distance they rode.",
    "Figures describe this day and promise nothing for another one. Tread, age and damage need a look at each tire.",
)


@dataclass(frozen=True)
class Report:
    """Every word of the report, in the order it is read."""

    title: str
    heading: str
    about: str
    made: str
    columns: list[str]
    rows: list[list[str]]
    lasting_heading: str
    lasting: list[str]
    notes: list[str]


def report_of(
    day: Day, specs: Sequence[SpecUse], lasting: Sequence[Lasting], *, reader: Person, made_at: datetime
) -> dict[str, Any]:
    """Return the words of the report."""
    zone = day.layout.track.time_zone
    columns = [*COLUMNS]
    columns[5] = f"Hot, off, {pressure_sign(reader)}"
    report = Report(
        title=f"Tires of {day.event}, {day_of(day.date)}",
        heading="Tires by spec",
        about=f"{day.event} · {day_of(day.date)} · {day.layout}",
        made=f"Made {day_and_clock(made_at, zone)} ({zone}) for {day.event.organiser}.",
        columns=columns,
        rows=[_row(one, reader) for one in specs],
        lasting_heading="Lasting the day: said the evening before, and happened",
        lasting=[lasting_in_words(one) for one in lasting],
        notes=list(NOTES),
    )
    return asdict(report)


def lasting_in_words(one: Lasting) -> str:
    """Return how many tires of a chance lasted, beside how many were to last by their chances."""
    between = (
        f"under {share(one.high)}"
        if one.low == 0.0
        else f"{share(one.low)} or more"
        if one.high == 1.0
        else f"{share(one.low)} to {share(one.high)}"
    )
    return (
        f"Given {between}: {one.tires} tire{pluralize(one.tires)}, {one.lasted} lasted; "
        f"{one.expected:.1f} were to last by their chances."
    )


def half_in_words(half: Half | None, reader: Any) -> str:
    """Return the median and the middle half, or a dash where too few riders read."""
    if half is None:
        return "\N{EN DASH}"
    low, middle, high = (fine_depth(value, reader) for value in (half.low, half.middle, half.high))
    return f"{middle} ({low} to {high}), {half.riders} riders"


def _row(one: SpecUse, reader: Person) -> list[str]:
    off = "\N{EN DASH}" if one.off_kpa is None else f"{pressure_change(one.off_kpa, reader)} ({one.readings})"
    return [
        str(one.spec),
        one.spec.axle,
        str(one.entered),
        str(one.ridden),
        str(one.ended),
        off,
        half_in_words(one.worn, reader),
        half_in_words(one.expected, reader),
    ]
