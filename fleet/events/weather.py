"""Bridge from weather reports to conditions: METAR, altimeter settings, estimated track surface."""

import re
import warnings
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from metar import Metar

from fleet.errors import Invalid
from fleet.events.models import Standing, Track
from fleet.science.atmosphere import (
    midsummer_noon_elevation_deg,
    standard_pressure_kpa,
    station_pressure_kpa,
    sun_elevation_deg,
    track_surface_c,
)

_COVER = {"SKC": 0.0, "CLR": 0.0, "NSC": 0.0, "FEW": 0.19, "SCT": 0.44, "BKN": 0.75, "OVC": 1.0, "VV": 1.0}
LONGEST_MONTHS_DAYS = 62


@dataclass(frozen=True)
class Weather:
    """What a report says about a track: air, dew point, pressure at the track, cloud as a share of the sky."""

    air_c: float
    dew_point_c: float | None
    barometer_kpa: float
    barometer_standing: Standing
    cloud_fraction: float | None
    reported_at: datetime


def read_metar(text: str, *, track: Track, seen_at: datetime) -> Weather:
    """Read a METAR (WMO-No. 306, FM 15) for a track; one without a temperature group is refused.

    The report's pressure is an altimeter setting, so it is brought to the track's altitude: an estimate where the
    station stands elsewhere. Without a pressure group the standard atmosphere at that altitude is taken.
    """
    if text.strip().upper().startswith("TAF"):
        raise Invalid(
            "This is a forecast (TAF) and no report: paste the METAR of the station, and give what is forecast by the hour.",
            field="metar",
        )
    report = _parsed(text, seen_at)
    if report is None or report.time is None:
        raise Invalid(
            "This is not a readable METAR: paste one whole report with place, day and time, such as "
            "'METAR XXXX 191550Z 24008KT CAVOK 22/12 Q1016'.",
            field="metar",
        )
    if report.temp is None:
        raise Invalid(
            "This METAR has no temperature group (such as 22/12): use another report, or enter the air temperature "
            "by hand.",
            field="metar",
        )
    altimeter = report.press.value("MB") / 10 if report.press else None
    return Weather(
        air_c=round(report.temp.value("C"), 1),
        dew_point_c=round(report.dewpt.value("C"), 1) if report.dewpt else None,
        barometer_kpa=barometer_at(track, altimeter_kpa=altimeter),
        barometer_standing=Standing.ESTIMATED,
        cloud_fraction=max((_COVER.get(cover, 0.0) for cover, _, _ in report.sky), default=None),
        reported_at=report.time.replace(tzinfo=UTC),
    )


def barometer_at(track: Track, *, altimeter_kpa: float | None) -> float:
    """Return the pressure at a track from an altimeter setting, or of the standard atmosphere without one."""
    try:
        if altimeter_kpa is None:
            return round(float(standard_pressure_kpa(track.altitude_m)), 2)
        return round(float(station_pressure_kpa(altimeter_kpa, track.altitude_m)), 2)
    except ValueError as error:
        raise Invalid(str(error), field="altimeter_kpa") from error


def estimated_surface_c(
    track: Track, *, air_c: float, cloud_fraction: float | None, moment: datetime
) -> float:
    """Return an estimate of the track surface for when nobody measured it."""
    try:
        surface = track_surface_c(
            air_c,
            track.latitude_deg,
            sun_elevation_deg(track.latitude_deg, track.longitude_deg, moment),
            midsummer_noon_elevation_deg(track.latitude_deg),
            0.5 if cloud_fraction is None else cloud_fraction,
        )
    except ValueError as error:
        is_cloud = cloud_fraction is not None and not 0 <= cloud_fraction <= 1
        raise Invalid(f"{error}.", field="cloud_fraction" if is_cloud else "air_c") from error
    return round(float(surface), 1)


def _parsed(text: str, seen_at: datetime) -> Metar.Metar | None:
    day = _report_day(text, seen_at)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # groups it does not know are no reason to refuse
            return Metar.Metar(text.strip().upper(), year=day.year, month=day.month, strict=False)
    except Metar.ParserError:
        return None


def _report_day(text: str, seen_at: datetime) -> date:
    """Return the latest date with the report's day of the month: around midnight or a month's end not today's."""
    found = re.search(r"\b(\d\d)\d{4}Z\b", text.upper())
    tomorrow = seen_at.astimezone(UTC).date() + timedelta(days=1)
    back = (tomorrow - timedelta(days=n) for n in range(LONGEST_MONTHS_DAYS))
    return next((day for day in back if found and day.day == int(found[1])), seen_at.date())
