"""What a stint is checked for before it is stored: its day, layout, distance, lap times, and a second sending."""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from fleet.accounts.policy import Actor, Service
from fleet.errors import Invalid, KeyReused
from fleet.events.models import Day, Entry, Layout
from fleet.garage.models import Instrument, WheelPair
from fleet.records import earlier
from fleet.running.errors import DistanceUnknown
from fleet.running.models import PressureReading, Stint

SHORTEST_LAP_S = 10.0
LONGEST_LAP_S = 3600.0
FASTEST_KMH = 400.0  # no motorcycle averages this on any track or road: a slip in laps or times


@dataclass(frozen=True)
class PlannedPressure:
    """A pressure that comes with a stint and is stored under a key made of the stint's own."""

    axle: str
    moment: PressureReading.Moment
    taken_at: datetime
    pressure_kpa: float

    def key_in(self, stint: Stint) -> uuid.UUID:
        """Return the reading's key, the same whenever the stint is sent."""
        return uuid.uuid5(stint.pk, f"{self.axle} {self.moment}")


def check_same_pressures(
    stint: Stint, pressures: list[PlannedPressure], instrument: Instrument | None
) -> None:
    """Refuse other pressures under the key of a stored stint."""
    offset_kpa = instrument.offset_kpa if instrument else 0.0
    for planned in pressures:
        true_kpa = round(planned.pressure_kpa - offset_kpa, 3)
        if earlier(PressureReading, planned.key_in(stint), pressure_kpa=true_kpa) is None:
            raise KeyReused(
                f"The key {stint.pk} was used before for this stint without a {planned.axle} pressure "
                f"({planned.moment.label.lower()}): add the reading by itself."
            )


def checked_layout(
    by: Actor, wheel_pair: WheelPair, day: Day | None, layout: Layout | None, started_at: datetime
) -> Layout | None:
    """Return the layout a stint ran on; a day counts only for its entrants, on its date and at its track."""
    if day is None:
        return layout
    rider = wheel_pair.bike.rider
    if not isinstance(by, Service) and not Entry.objects.filter(day=day, rider=rider).exists():
        raise Invalid(
            "You are not entered on that day: leave the day out, or ask the organiser to enter you.",
            field="day",
        )
    track = day.layout.track
    if started_at.astimezone(ZoneInfo(track.time_zone)).date() != day.date:
        raise Invalid(
            f"That day is {day.date:%d %b %Y} at {track}: correct the time, or choose the day you rode.",
            field="day",
        )
    if layout is not None and layout.track_id != track.pk:
        raise Invalid(f"That layout is not one of {track}: choose one of the day's track.", field="layout")
    return layout or day.layout


def checked_distance_km(
    layout: Layout | None, laps: int | None, distance_km: float | None, lasted: timedelta
) -> float:
    """Return the distance: as given, or laps times the layout's length; one nobody can ride in the time is refused."""
    if distance_km is None and layout is not None and laps:
        distance_km = round(layout.length_km * laps, 3)
    if distance_km is None:
        raise DistanceUnknown(
            "Give the laps on a layout, or the distance in km: without either nothing can be counted.",
            field="laps",
        )
    hours = lasted / timedelta(hours=1)
    if hours > 0 and distance_km > FASTEST_KMH * hours:
        raise Invalid(
            f"{distance_km:.1f} km in {60 * hours:.0f} minutes is faster than any motorcycle: check the laps and the "
            "times.",
            field="laps" if laps else "distance_km",
        )
    return distance_km


def checked_lap_times(lap_times_s: list[float]) -> list[float]:
    """Return lap times that can be lap times."""
    if any(not SHORTEST_LAP_S <= lap_time <= LONGEST_LAP_S for lap_time in lap_times_s):
        raise Invalid(
            "A lap time lies between 10 seconds and an hour: give seconds, such as 102.35.",
            field="lap_times_s",
        )
    return lap_times_s
