"""A forecast by the hour as a list: typed, pasted, sent as a file, or read from where the settings say."""

import http.client
import logging
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path
from typing import Any, Final, Protocol
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet.accounts.policy import SERVICE, Actor, Right, require
from fleet.celery import quiet
from fleet.errors import Invalid, Refusal
from fleet.events.actions import record_conditions
from fleet.events.models import Conditions, Day, Standing
from fleet.exchange.columns import Column, Sheet
from fleet.exchange.faults import Fault
from fleet.exchange.kinds import NUMBER, Kind
from fleet.exchange.reading import Line, read_records
from fleet.exchange.uploads import Records, records_of
from fleet.quantities import AIR_PRESSURE, TEMPERATURE
from fleet.revisions import raised_together

log = logging.getLogger(__name__)
MOST_HOURS: Final = 100
MOST_BYTES: Final = 256 * 1024
PATIENCE_S: Final = 10
KPA_PER_HPA: Final = 0.1
COLDEST_C: Final = -40
HOTTEST_C: Final = 60
_SAME: Final = uuid.UUID("0c6a3f57-2f5a-4a3f-9f53-0b7c3a1f8e21")


def _clock(text: str) -> time:
    try:
        found = time.fromisoformat(text.strip().zfill(5))
    except ValueError:
        raise ValueError(f"{text!r} is no time of the day") from None
    if found.tzinfo is not None:
        raise ValueError(f"{text!r} names a time zone")
    return found


CLOCK: Final = Kind("time of day", "a time of the track's clock, such as 9:00 or 14:30", _clock)
FORECAST: Final = Sheet(
    name="forecast",
    about="The weather expected on one day.",
    columns=(
        Column("time", CLOCK, "When it holds, by the track's clock."),
        Column("air_c", NUMBER, "Air, °C in the shade."),
        Column("dew_c", NUMBER, "Dew point, °C.", required=False),
        Column("cloud_percent", NUMBER, "How much of the sky is covered, 0 to 100.", required=False),
        Column("qnh_hpa", NUMBER, "Altimeter setting, hPa.", required=False),
        Column("track_c", NUMBER, "Track surface, °C; estimated where it is left out.", required=False),
    ),
    identity=("time",),
    rows=Conditions.objects.none,
    add=record_conditions,
)
FAHRENHEIT: Final = TEMPERATURE["F"].stored
OTHER_UNITS: Final[dict[str, tuple[str, Callable[[float], float]]]] = {
    "air_f": ("air_c", FAHRENHEIT),
    "dew_f": ("dew_c", FAHRENHEIT),
    "track_f": ("track_c", FAHRENHEIT),
    "qnh_inhg": ("qnh_hpa", lambda inches: AIR_PRESSURE["inHg"].stored(inches) / KPA_PER_HPA),
}
EXAMPLE: Final = "time,air_c,dew_c,cloud_percent,qnh_hpa"


class Faulty(Invalid):
    """A forecast with rows that cannot be taken; nothing of it was stored."""

    code = "faulty-list"

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(f"{len(faults)} thing(s) to mend: nothing of the forecast was stored.")
        self.faults = faults


class Source(Protocol):
    """Where automatic forecasts come from: anything that gives a day's forecast as the text of such a list."""

    @property
    def name(self) -> str:
        """Return what its forecasts are signed with."""

    def text_for(self, day: Day) -> str | None:
        """Return the list for a day, or nothing where there is none."""


@dataclass(frozen=True)
class FileOrAddress:
    """A file, or an address of the web, with ``{track}`` and ``{date}`` for the track's code and the day's date."""

    template: str

    @property
    def name(self) -> str:
        """Return what a forecast from here is signed with: the host alone, since bulletins are public and paths may hold keys."""
        host = urllib.parse.urlsplit(self.template).hostname if self._is_on_the_web else None
        return f"forecast from {host}" if host else "forecast read from a file"

    @property
    def _is_on_the_web(self) -> bool:
        return self.template.startswith(("http://", "https://"))

    def text_for(self, day: Day) -> str | None:
        """Return what stands there for a day."""
        place = self.template.replace("{track}", day.layout.track.code).replace(
            "{date}", day.date.isoformat()
        )
        try:
            if self._is_on_the_web:
                with urllib.request.urlopen(place, timeout=PATIENCE_S) as answer:  # noqa: S310 - the scheme is checked
                    data = answer.read(MOST_BYTES + 1)
            else:
                with Path(place).open("rb") as file:
                    data = file.read(MOST_BYTES + 1)
        except FileNotFoundError:
            return None
        except urllib.error.HTTPError as error:
            if error.code == 404:  # noqa: PLR2004 - nothing is there for this day
                return None
            raise
        if len(data) > MOST_BYTES:
            raise Invalid(f"The {self.name} is larger than 256 kB: name one for a single day.")
        return str(data.decode("utf-8-sig"))


def record_forecast(
    *, by: Actor, at: datetime, day: Day, data: bytes, name: str, source: str, key: uuid.UUID
) -> list[Conditions]:
    """Store every row of a forecast as conditions that hold at its hour, or none; the same again changes nothing."""
    require(by, Right.EDIT_EVENT, day.event.organiser)
    records = records_of(data, name)
    if len(records) > MOST_HOURS + 1:
        raise Invalid(f"A day's forecast has at most {MOST_HOURS} rows.", field="file")
    reading = read_records(iter(_in_known_units(records)), FORECAST)
    faults = list(reading.faults)
    stored: list[Conditions] = []
    with transaction.atomic(), quiet(), raised_together():
        known_bad = {fault.line for fault in faults}
        for line in (one for one in reading.lines if one.number not in known_bad):
            try:
                stored.append(_record(line, by=by, at=at, day=day, source=source, key=key))
            except Refusal as refusal:
                faults.append(Fault(FORECAST.file, line.number, refusal.field, refusal.sentence))
        if faults:
            raise Faulty(sorted(faults))
    return stored


def _in_known_units(records: Records) -> Records:
    """Return a list with its columns in Fahrenheit and inches of mercury turned into those the sheet knows."""
    (first, header), *rest = records
    turned = {place: OTHER_UNITS[name] for place, name in enumerate(header) if name in OTHER_UNITS}
    names = [turned[place][0] if place in turned else name for place, name in enumerate(header)]
    return [
        (first, names),
        *(
            (number, [_turned(cell, turned.get(at)) for at, cell in enumerate(cells)])
            for number, cells in rest
        ),
    ]


def _turned(cell: str, to: tuple[str, Callable[[float], float]] | None) -> str:
    try:
        return f"{to[1](float(cell)):.3f}" if to and cell else cell
    except ValueError:
        return cell  # the reading says what is wrong with it


def read_forecasts(source: Source, days: Iterable[Day], *, at: datetime) -> int:
    """Store what a source says of some days; one it cannot give is logged and tried again. Returns the rows stored."""
    count = 0
    for day in days:
        try:
            text = source.text_for(day)
            if text is not None:
                key = uuid.uuid5(_SAME, f"{day.pk}{text}")
                before = Conditions.objects.filter(day=day).count()
                data = text.encode()
                record_forecast(
                    by=SERVICE,
                    at=at,
                    day=day,
                    data=data,
                    name="forecast.csv",
                    source=source.name[:300],
                    key=key,
                )
                count += Conditions.objects.filter(day=day).count() - before
        except (OSError, http.client.HTTPException, UnicodeDecodeError, Faulty, Refusal) as error:
            said = (
                "; ".join(str(fault) for fault in error.faults) if isinstance(error, Faulty) else str(error)
            )
            log.warning("No forecast for %s from %s: %s", day, source.name, said)
    return count


def _record(line: Line, *, by: Actor, at: datetime, day: Day, source: str, key: uuid.UUID) -> Conditions:
    cells: dict[str, Any] = line.cells
    zone = ZoneInfo(day.layout.track.time_zone)
    cloud, qnh, surface = cells["cloud_percent"], cells["qnh_hpa"], cells["track_c"]
    if cloud is not None and not 0 <= cloud <= 100:  # noqa: PLR2004 - a percentage
        raise Invalid("A share of the sky lies between 0 and 100 percent.", field="cloud_percent")
    if not COLDEST_C <= cells["air_c"] <= HOTTEST_C:
        raise Invalid("An air temperature lies between -40 and 60 °C: check the unit.", field="air_c")
    return record_conditions(
        by=by,
        at=at,
        day=day,
        holds_at=datetime.combine(day.date, cells["time"], tzinfo=zone),
        standing=Standing.FORECAST,
        source=source,
        air_c=cells["air_c"],
        dew_point_c=cells["dew_c"],
        cloud_fraction=None if cloud is None else cloud / 100,
        altimeter_kpa=None if qnh is None else qnh * KPA_PER_HPA,
        track_surface_c=surface,
        track_surface_standing=None if surface is None else Standing.FORECAST,
        key=uuid.uuid5(key, f"{cells['time']}"),
    )
