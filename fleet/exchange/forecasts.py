"""A forecast by the hour as a list: typed, pasted, sent as a file, or read from where the settings say."""

import http.client
import logging
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
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
from fleet.exchange.hours import CLOCK, KPA_PER_HPA, decimal, hours_of
from fleet.exchange.reading import Line, read_records
from fleet.exchange.uploads import records_of
from fleet.revisions import raised_together

log = logging.getLogger(__name__)
MOST_HOURS: Final = 100
MOST_BYTES: Final = 256 * 1024
PATIENCE_S: Final = 10
_SAME: Final = uuid.UUID("0c6a3f57-2f5a-4a3f-9f53-0b7c3a1f8e21")


FORECAST: Final = Sheet(
    name="forecast",
    about="The weather expected on one day.",
    columns=(
        Column(
            "time",
            CLOCK,
            "When it holds, by the track's clock; with a date before it, rows of other days are passed over.",
        ),
        Column("air_c", decimal("14.5"), "Air, °C in the shade."),
        Column("dew_c", decimal("8.5"), "Dew point, °C.", required=False),
        Column("cloud_percent", decimal("50"), "How much of the sky is covered, 0 to 100.", required=False),
        Column("qnh_hpa", decimal("1016"), "Altimeter setting, hPa.", required=False),
        Column(
            "track_c", decimal("22.5"), "Track surface, °C; estimated where it is left out.", required=False
        ),
    ),
    identity=("time",),
    rows=Conditions.objects.none,
    add=record_conditions,
)
LIMITS: Final = {
    "air_c": (-40, 60, "An air temperature lies between -40 and 60 °C: check the unit."),
    "dew_c": (-60, 40, "A dew point lies between -60 and 40 °C: check the unit."),
    "track_c": (-30, 85, "A track surface lies between -30 and 85 °C: check the unit."),
    "cloud_percent": (0, 100, "A share of the sky lies between 0 and 100 percent."),
    "qnh_hpa": (
        870,
        1085,
        "An altimeter setting lies between 870 and 1085 hPa; inches of mercury go into a column qnh_inhg.",
    ),
}
COLUMN_OF: Final = {
    "holds_at": "time",
    "dew_point_c": "dew_c",
    "track_surface_c": "track_c",
    "cloud_fraction": "cloud_percent",
    "altimeter_kpa": "qnh_hpa",
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
    reading = read_records(iter(hours_of(records, day=day)), FORECAST)
    faults = list(reading.faults)
    stored: list[Conditions] = []
    with transaction.atomic(), quiet(), raised_together():
        known_bad = {fault.line for fault in faults}
        for line in (one for one in reading.lines if one.number not in known_bad):
            try:
                stored.append(_record(line, by=by, at=at, day=day, source=source, key=key))
            except Refusal as refusal:
                faults.append(
                    Fault(
                        FORECAST.file,
                        line.number,
                        COLUMN_OF.get(refusal.field, refusal.field),
                        refusal.sentence,
                    )
                )
        if faults:
            raise Faulty(sorted(faults))
    return stored


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
    for column, (low, high, sentence) in LIMITS.items():
        if cells[column] is not None and not low <= cells[column] <= high:
            raise Invalid(sentence, field=column)
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
