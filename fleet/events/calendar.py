"""A rider's times on track as a calendar that other programs read (iCalendar, RFC 5545 with RFC 7986)."""

import uuid
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Final

from icalendar import Calendar
from icalendar import Event as CalendarEvent

from fleet.events.models import Entry, Slot
from fleet.garage.models import Rider

PRODUCT: Final = "-//Track-day tires//Times on track 1//EN"
LOOK_AGAIN_AFTER: Final = timedelta(minutes=15)


def calendar_of(rider: Rider, entries: Iterable[Entry], *, at: datetime, address: str) -> bytes:
    """Return the calendar of a rider's entries: each slot of the group, and the whole day where no time is set yet.

    ``address`` leads to the public bulletin of a day, with ``{}`` for its code. Moments are written in UTC, which every program
    shows in its own zone.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", f"Times on track of {rider.name}")
    calendar.add("refresh-interval", LOOK_AGAIN_AFTER, parameters={"VALUE": "DURATION"})
    for entry in entries:
        slots: list[Slot] = entry.own_slots  # type: ignore[attr-defined]  # as calendar_entries reads them
        for event in [_slot(entry, slot) for slot in slots] or [_whole_day(entry)]:
            event.add("dtstamp", at.astimezone(UTC))
            event.add("location", str(entry.day.layout))
            event.add("url", address.format(entry.day.public_code))
            event.add("description", _description(entry))
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _slot(entry: Entry, slot: Slot) -> CalendarEvent:
    event = CalendarEvent()
    event.add("uid", str(uuid.uuid5(entry.pk, str(slot.pk))))
    event.add("summary", f"{entry.group} on track, {entry.day.event}")
    event.add("dtstart", slot.starts_at.astimezone(UTC))
    event.add("dtend", slot.ends_at.astimezone(UTC))
    return event


def _whole_day(entry: Entry) -> CalendarEvent:
    event = CalendarEvent()
    event.add("uid", str(uuid.uuid5(entry.pk, "day")))
    event.add("summary", f"{entry.day.event}, times not set yet")
    event.add("dtstart", entry.day.date)
    event.add("dtend", entry.day.date + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    return event


def _description(entry: Entry) -> str:
    return (
        f"Number {entry.number}, {entry.bike}. The bulletin says what to set; the maker's published range and the bike's placard "
        "come first. Check with your own gauge."
    )
