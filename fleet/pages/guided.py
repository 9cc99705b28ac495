"""What the wheels at the trailer are to be set to, and what is missing where that is not known."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from fleet.accounts.models import Person
from fleet.events.models import Conditions, Day, Entry
from fleet.events.queries import coming_entries
from fleet.garage.models import Instrument, WheelPair
from fleet.life.queries import MountedTire, sets_of
from fleet.pages.garage import own_gauge
from fleet.pages.trailer import trailer_day
from fleet.pressures.at_the_wheel import Ground, ground_for, lines_at
from fleet.pressures.followed import lines_to_set
from fleet.pressures.models import GuidanceLine


@dataclass(frozen=True)
class Guided:
    """The tires on a wheel pair with their start pressures, on the rider's gauge, and what those rest on."""

    mounted: dict[str, MountedTire]
    lines: dict[str, GuidanceLine]
    gauge: Instrument | None
    entry: Entry | None
    day: Day | None
    ground: Ground | None

    @property
    def to_set(self) -> dict[str, GuidanceLine]:
        """The lines of the tires that may go out."""
        return {axle: line for axle, line in self.lines.items() if not self.mounted[axle].is_stopped}

    @property
    def conditions(self) -> Conditions | None:
        """The weather the lines hold for."""
        return self.ground.conditions if self.ground and self.lines else None

    @property
    def missing(self) -> str:
        """What is needed before start pressures can be worked out; nothing where they are."""
        if not self.mounted or self.lines:
            return ""
        if self.day is None:
            return "No start pressure: this rider is entered on no coming day, and no other rider of yours is either."
        return (
            f"No start pressure yet for {self.day.event}, {self.day.date:%-d %b %Y}: it needs that day's weather. Its "
            "organiser enters it at the event desk."
        )


def guided(by: Person, pair: WheelPair, at: datetime) -> Guided:
    """Return the tires on a wheel pair and what to set them to: the day's guidance, or worked out for them alone."""
    rider = pair.bike.rider
    mounted = mounted_on(pair)
    entry = next((one for one in coming_entries([rider], at=at) if one.bike_id == pair.bike_id), None)
    day = entry.day if entry else _coming(trailer_day(by, at), at)
    drafted = _drafted(pair, entry, mounted, at)
    ground = _ground(pair, entry, day, drafted, at)
    gauge = own_gauge(rider)
    wanted = [one.fitting.tire.spec for axle, one in mounted.items() if axle not in drafted]
    computed = lines_at(ground, wanted, gauge) if ground else {}
    return Guided(mounted, computed | drafted, gauge, entry, day, ground)


def mounted_on(pair: WheelPair) -> dict[str, MountedTire]:
    """Return by axle what is on a wheel pair."""
    views = sets_of([pair.bike.rider], only_in_use=False)
    return next((view.tires for view in views if view.wheel_pair.pk == pair.pk), {})


def _drafted(
    pair: WheelPair, entry: Entry | None, mounted: dict[str, MountedTire], at: datetime
) -> dict[str, GuidanceLine]:
    """Return the lines of the day's guidance for what is on the wheels now; one for a tire that came off is of no use."""
    if entry is None or not pair.is_in_use:
        return {}
    return {
        line.axle: line
        for line in lines_to_set(pair.bike.rider, entry.day, at=at)
        if line.entry_id == entry.pk
        and line.axle in mounted
        and mounted[line.axle].fitting.tire.spec_id == line.spec_id
    }


def _ground(
    pair: WheelPair, entry: Entry | None, day: Day | None, drafted: dict[str, GuidanceLine], at: datetime
) -> Ground | None:
    for line in drafted.values():  # the weather the guidance was computed for, so that all figures agree
        return Ground(line.guidance.day, line.part.conditions, pair.bike.rider, at, entry)
    return ground_for(pair.bike.rider, entry=entry, day=day, at=at)


def _coming(day: Day | None, at: datetime) -> Day | None:
    if day is None:
        return None
    return day if day.date >= at.astimezone(ZoneInfo(day.layout.track.time_zone)).date() else None
