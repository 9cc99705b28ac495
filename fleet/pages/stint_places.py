"""The places a stint can have been on, offered to whoever logs one."""

from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from fleet.accounts.models import Person
from fleet.events.models import Entry, Layout
from fleet.events.queries import entries_for, tracks
from fleet.garage.models import WheelPair
from fleet.pages.units import day_of

LOOK_BACK: Final = timedelta(days=7)
ROAD: Final = "road"


class Where:
    """The places a stint can have been on: event days entered, layouts of tracks, the road."""

    def __init__(self, by: Person, pair: WheelPair, at: datetime) -> None:
        recent = entries_for(by).filter(
            bike=pair.bike,
            day__date__gte=(at - LOOK_BACK).date(),
            day__date__lte=(at + timedelta(days=1)).date(),
        )
        rows = recent.select_related("day__layout__track", "day__event", "group").order_by("-day__date")
        self.entries: list[Entry] = [entry for entry in rows if _has_come(entry, at)]
        self.layouts: list[Layout] = [layout for track in tracks() for layout in track.layouts.all()]

    @property
    def choices(self) -> list[tuple[str, str]]:
        """Return what the rider chooses from."""
        days = [
            (
                f"day:{entry.day_id}",
                f"{day_of(entry.day.date)}, group {entry.group}, {entry.day.event}, {entry.day.layout}",
            )
            for entry in self.entries
        ]
        layouts = [(f"layout:{layout.pk}", f"{layout}, outside an event") for layout in self.layouts]
        return [*days, *layouts, (ROAD, "On the road")]

    @property
    def zone(self) -> str:
        """Return the time zone the form's clock shows."""
        return self.entries[0].day.layout.track.time_zone if self.entries else "UTC"

    def of(self, choice: str) -> dict[str, Any]:
        """Return the keywords of the action for a choice."""
        kind, _, pk = choice.partition(":")
        if kind == "day":
            return {"day": next(entry.day for entry in self.entries if str(entry.day_id) == pk)}
        if kind == "layout":
            return {"layout": next(layout for layout in self.layouts if str(layout.pk) == pk)}
        return {}

    def zone_of(self, choice: str) -> str:
        """Return the time zone of a choice."""
        found = self.of(choice)
        layout = found["day"].layout if "day" in found else found.get("layout")
        return layout.track.time_zone if layout else self.zone


def _has_come(entry: Entry, at: datetime) -> bool:
    return entry.day.date <= at.astimezone(ZoneInfo(entry.day.layout.track.time_zone)).date()
