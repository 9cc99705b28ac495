"""Invented circuits, the season's days there, their time on track and their weather."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from fleet.demo.scene import Scene, midnight, minutes
from fleet.events.models import Track
from fleet.events.weather import estimated_surface_c
from fleet.science.atmosphere import standard_pressure_kpa

MARRAM: Final = Track(
    code="marram-point",
    name="Marram Point Circuit",
    latitude_deg=52.9,
    longitude_deg=0.4,
    altitude_m=18.0,
    time_zone="Europe/London",
)
COLD_QUARRY: Final = Track(
    code="cold-quarry",
    name="Cold Quarry Raceway",
    latitude_deg=44.1,
    longitude_deg=-103.9,
    altitude_m=1430.0,
    time_zone="America/Denver",
)


@dataclass(frozen=True)
class Place:
    """A layout of a circuit and its climate: the air on an average day, and how far summer is from that."""

    track: Track
    layout: str
    name: str
    length_km: float
    mean_c: float
    swing_c: float


FULL: Final = Place(MARRAM, "marram-point-full", "Full", 4.12, 14.0, 6.5)
SHORT: Final = Place(MARRAM, "marram-point-short", "Short", 2.65, 14.0, 6.5)
QUARRY: Final = Place(COLD_QUARRY, "cold-quarry-full", "Full", 3.38, 14.5, 11.0)
PLACES: Final = (FULL, SHORT, QUARRY)

# days from today, place, whether it rains
SEASON: Final = (
    (-118, FULL, False),
    (-104, SHORT, False),
    (-90, FULL, False),
    (-76, QUARRY, False),
    (-75, QUARRY, False),
    (-61, FULL, False),
    (-47, FULL, True),
    (-33, SHORT, False),
    (-19, FULL, False),
    (-5, FULL, False),
    (1, FULL, False),
)
# pace groups with the speed they average on an ordinary lap, km/h
GROUPS: Final = (("Novice", 97.0), ("Intermediate", 109.0), ("Fast", 120.0), ("Advanced", 129.0))
ROUNDS: Final = 6
SLOT_MIN: Final = 20.0
HOURS: Final = (9, 11, 13, 15, 17)
WARMEST_HOUR: Final = 15
WARMEST_DAY: Final = 205


@dataclass(frozen=True)
class Moment:
    """The weather at one hour."""

    air_c: float
    surface_c: float
    barometer_kpa: float
    dew_point_c: float
    cloud_fraction: float


@dataclass
class TrackDay:
    """One day of an event with its weather by the hour."""

    date: date
    event: str
    place: Place
    is_wet: bool
    weather: dict[int, Moment] = field(default_factory=dict)

    @cached_property
    def zone(self) -> ZoneInfo:
        """Return the track's time zone."""
        return ZoneInfo(self.place.track.time_zone)

    def at(self, hour: int, minute: float = 0.0) -> datetime:
        """Return a moment of the day by the track's clock."""
        return datetime.combine(self.date, time(hour), self.zone) + minutes(minute)

    def slot(self, group: int, turn: int) -> datetime:
        """Return when a group goes out for its n-th time."""
        return self.at(9, SLOT_MIN * (group + turn * len(GROUPS)))

    def now(self, moment: datetime) -> Moment:
        """Return the weather at a moment, that of the hour nearest to it."""
        hour = moment.astimezone(self.zone).hour
        return self.weather[min(HOURS, key=lambda known: abs(known - hour))]


def add_places(scene: Scene) -> list[TrackDay]:
    """Add tracks, layouts, events, days, groups, slots and the weather, and return the days in order."""
    for track in (MARRAM, COLD_QUARRY):
        scene.add(
            "tracks",
            code=track.code,
            name=track.name,
            latitude_deg=track.latitude_deg,
            longitude_deg=track.longitude_deg,
            altitude_m=track.altitude_m,
            time_zone=track.time_zone,
        )
    for place in PLACES:
        scene.add(
            "layouts",
            track=place.track.code,
            code=place.layout,
            name=place.name,
            length_km=place.length_km,
        )
    days: list[TrackDay] = []
    for offset, place, is_wet in SEASON:
        on = scene.day(offset)
        follows = bool(days) and days[-1].date == on - timedelta(days=1)
        event = days[-1].event if follows else f"longfield-{on.isoformat()}"
        day = TrackDay(on, event, place, is_wet)
        if not follows:
            _add_event(scene, day)
        scene.add("days", event=event, date=on, layout=place.layout)
        _add_slots(scene, day)
        _draw_weather(scene, day)
        _add_weather(scene, day)
        days.append(day)
    return days


def _add_event(scene: Scene, day: TrackDay) -> None:
    scene.add(
        "events",
        organiser="longfield",
        code=day.event,
        name=f"Longfield at {day.place.track.name}",
    )
    for name, speed_kmh in GROUPS:
        lap_s = round(3600 * day.place.length_km / speed_kmh, 1)
        scene.add("groups", event=day.event, name=name, usual_lap_s=lap_s)


def _add_slots(scene: Scene, day: TrackDay) -> None:
    for turn in range(ROUNDS):
        for group, (name, _speed) in enumerate(GROUPS):
            starts_at = day.slot(group, turn)
            scene.add(
                "slots",
                event=day.event,
                date=day.date,
                group=name,
                starts_at=starts_at,
                ends_at=starts_at + minutes(SLOT_MIN),
            )


def _draw_weather(scene: Scene, day: TrackDay) -> None:
    place = day.place
    season = np.cos(2 * np.pi * (day.date.timetuple().tm_yday - WARMEST_DAY) / 365.25)
    middle = place.mean_c + place.swing_c * float(season) + scene.about(0, 2.5) - 3.0 * day.is_wet
    cloud = 1.0 if day.is_wet else round(scene.between(0.05, 0.85), 2)
    barometer = float(standard_pressure_kpa(place.track.altitude_m)) * scene.about(1.0, 0.007)
    swing = 1.5 if day.is_wet else 4.0
    gap = 1.0 if day.is_wet else scene.between(5.0, 11.0)
    for hour in HOURS:
        air = middle + swing * float(np.cos(2 * np.pi * (hour - WARMEST_HOUR) / 24)) + scene.about(0, 0.4)
        moment = day.at(hour)
        surface = estimated_surface_c(
            place.track, air_c=round(air, 1), cloud_fraction=cloud, moment=moment
        ) + scene.about(0, 1.5)
        day.weather[hour] = Moment(
            air_c=round(air, 1),
            surface_c=round(min(surface, air + 1.0) if day.is_wet else surface, 1),
            barometer_kpa=round(barometer + scene.about(0, 0.05), 2),
            dew_point_c=round(air - gap, 1),
            cloud_fraction=cloud,
        )


def _add_weather(scene: Scene, day: TrackDay) -> None:
    before = midnight(day.date - timedelta(days=1))
    for hour in (9, 13, 15):
        off = scene.about(0, 1.0)
        _add_conditions(scene, day, hour, "forecast", off, recorded_at=before)
    if day.date <= scene.today:
        for hour in HOURS:
            _add_conditions(scene, day, hour, "observed", 0.0, recorded_at=day.at(hour, 4))


def _add_conditions(
    scene: Scene, day: TrackDay, hour: int, standing: str, off_c: float, *, recorded_at: datetime
) -> None:
    moment = day.weather[hour]
    is_forecast = standing == "forecast"
    scene.fact(
        "conditions",
        recorded_at=recorded_at,
        event=day.event,
        date=day.date,
        holds_at=day.at(hour),
        standing=standing,
        source=f"{'forecast' if is_forecast else 'track-side instruments'}, invented for the demo",
        air_c=round(moment.air_c + off_c, 1),
        dew_point_c=round(moment.dew_point_c + off_c, 1),
        barometer_kpa=moment.barometer_kpa,
        barometer_standing=standing,
        track_surface_c=None if is_forecast else moment.surface_c,
        track_surface_standing=None if is_forecast else standing,
        cloud_fraction=moment.cloud_fraction,
    )
