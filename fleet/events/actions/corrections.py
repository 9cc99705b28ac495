"""Corrections of events, days, groups, slots and entries; codes and organisers stay as they are."""

from datetime import date, datetime
from typing import Final, TypedDict, Unpack
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet.accounts.policy import Actor, Right, require
from fleet.accounts.trail import correct, kept_by
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.errors import DayInUse
from fleet.events.models import Day, Entry, Event, Group, Layout, Slot
from fleet.events.revisions import touch_days
from fleet.inventory.revisions import DRAFT

RUN: Final = frozenset({"stints", "bulletins"})
"""What ties a day to its layout: distances were run on it, a bulletin was read on it."""


class EventData(TypedDict, total=False):
    """What can be corrected of an event."""

    name: str
    takes_entries: bool


class DayData(TypedDict, total=False):
    """What can be corrected of a day."""

    date: date
    layout: Layout
    parts: str


class GroupData(TypedDict, total=False):
    """What can be corrected of a pace group."""

    name: str
    usual_lap_s: float | None


class SlotData(TypedDict, total=False):
    """What can be corrected of a slot."""

    group: Group
    starts_at: datetime
    ends_at: datetime


class EntryData(TypedDict, total=False):
    """What can be corrected of an entry."""

    group: Group
    number: str
    uses_warmers: bool


@transaction.atomic
def correct_event(*, by: Actor, event: Event, **given: Unpack[EventData]) -> Event:
    """Mend an event's name, or whether riders may enter themselves."""
    require(by, Right.EDIT_EVENT, event.organiser)
    return correct(event, given, by=by, **kept_by(event.organiser))


@transaction.atomic
def correct_day(*, by: Actor, day: Day, **given: Unpack[DayData]) -> Day:
    """Mend a day's date or track while nothing rests on it, its layout on the same track until it was run or told, its parts always."""
    require(by, Right.EDIT_EVENT, day.event.organiser)
    layout = given.get("layout", day.layout)
    if given.get("date", day.date) != day.date or layout.track_id != day.layout.track_id:
        _refuse_in_use(day, _relations())
    elif layout.pk != day.layout_id:
        _refuse_in_use(day, RUN)
    mended = correct(day, given, by=by, **kept_by(day.event.organiser))
    _draft_again(day)
    return mended


@transaction.atomic
def correct_group(*, by: Actor, group: Group, **given: Unpack[GroupData]) -> Group:
    """Mend a pace group's name or usual lap time."""
    require(by, Right.EDIT_EVENT, group.event.organiser)
    mended = correct(group, given, by=by, **kept_by(group.event.organiser))
    _draft_again(*group.event.days.all())
    return mended


@transaction.atomic
def correct_slot(*, by: Actor, slot: Slot, **given: Unpack[SlotData]) -> Slot:
    """Mend a slot's group or times."""
    require(by, Right.EDIT_EVENT, slot.day.event.organiser)
    check_group(given.get("group", slot.group), slot.day)
    check_on_day(given.get("starts_at", slot.starts_at), slot.day)
    mended = correct(slot, given, by=by, **kept_by(slot.day.event.organiser))
    _draft_again(slot.day)
    return mended


@transaction.atomic
def correct_entry(*, by: Actor, entry: Entry, **given: Unpack[EntryData]) -> Entry:
    """Mend an entry's group, number or use of warmers."""
    require(by, Right.EDIT_EVENT, entry.day.event.organiser)
    check_group(given.get("group", entry.group), entry.day)
    mended = correct(entry, given, by=by, **kept_by(entry.day.event.organiser, rider=entry.rider_id))
    _draft_again(entry.day)
    return mended


def check_group(group: Group, day: Day) -> None:
    """Refuse a group of another event than the day's."""
    if group.event_id != day.event_id:
        raise Invalid("The group belongs to another event: choose one of this event's groups.", field="group")


def check_on_day(starts_at: datetime, day: Day) -> None:
    """Refuse a slot that does not begin on the day itself, as the track's clock shows it."""
    if starts_at.astimezone(ZoneInfo(day.layout.track.time_zone)).date() != day.date:
        raise Invalid(
            f"This slot is not on the day itself ({day.date:%d %b %Y}): check the time.", field="starts_at"
        )


def _relations() -> frozenset[str]:
    related = Day._meta.related_objects  # noqa: SLF001 -- Django documents it
    return frozenset(str(relation.get_accessor_name()) for relation in related)


def _refuse_in_use(day: Day, relations: frozenset[str]) -> None:
    """Refuse to move a day on which anything of these kinds rests; they stand higher on the ladder and are asked by name."""
    if resting := sorted(name for name in relations if getattr(day, name).exists()):
        raise DayInUse(
            f"This day has {', '.join(resting)} already: they belong to its date and track. Add the right day, and enter "
            "the riders there."
        )


def _draft_again(*days: Day) -> None:
    touch_days(*(day.pk for day in days))
    wake(DRAFT)
