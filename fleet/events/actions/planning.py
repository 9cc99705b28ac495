"""Writes of tracks, events, days, groups, slots and entries."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require, require_service
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.models import Day, Entry, Event, Group, Layout, Slot, Track
from fleet.events.revisions import touch_days
from fleet.garage.models import Bike
from fleet.inventory.revisions import DRAFT
from fleet.records import store


def add_track(
    *,
    by: Actor,
    code: str,
    name: str,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    time_zone: str,
) -> Track:
    """Store a track."""
    require_service(by)
    return store(
        Track(
            code=code,
            name=name,
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            altitude_m=altitude_m,
            time_zone=time_zone,
        )
    )


def add_layout(*, by: Actor, track: Track, code: str, name: str, length_km: float) -> Layout:
    """Store a way of running a track."""
    require_service(by)
    return store(Layout(track=track, code=code, name=name, length_km=length_km))


def plan_event(*, by: Actor, organiser: Organisation, code: str, name: str) -> Event:
    """Store an event of an organiser."""
    require(by, Right.EDIT_EVENT, organiser)
    if not organiser.is_organiser:
        raise Invalid(
            "Events are run by an organiser; this organisation is a vendor only.", field="organiser"
        )
    return store(Event(organiser=organiser, code=code, name=name))


def add_day(*, by: Actor, event: Event, date: date, layout: Layout) -> Day:
    """Store a date of an event on a layout."""
    require(by, Right.EDIT_EVENT, event.organiser)
    return store(Day(event=event, date=date, layout=layout))


def add_group(*, by: Actor, event: Event, name: str, usual_lap_s: float | None = None) -> Group:
    """Store a pace group of an event."""
    require(by, Right.EDIT_EVENT, event.organiser)
    return store(Group(event=event, name=name, usual_lap_s=usual_lap_s))


@transaction.atomic
def add_slot(*, by: Actor, day: Day, group: Group, starts_at: datetime, ends_at: datetime) -> Slot:
    """Store a group's time on track."""
    require(by, Right.EDIT_EVENT, day.event.organiser)
    if group.event_id != day.event_id:
        raise Invalid("The group belongs to another event: choose one of this event's groups.", field="group")
    if starts_at.astimezone(ZoneInfo(day.layout.track.time_zone)).date() != day.date:
        raise Invalid(
            f"This slot is not on the day itself ({day.date:%d %b %Y}): check the time.", field="starts_at"
        )
    slot = store(Slot(day=day, group=group, starts_at=starts_at, ends_at=ends_at))
    touch_days(day.pk)
    wake(DRAFT)
    return slot


@transaction.atomic
def enter(*, by: Actor, day: Day, bike: Bike, group: Group, number: str, uses_warmers: bool = False) -> Entry:
    """Enter a bike and its rider in a group on a day."""
    require(by, Right.EDIT_EVENT, day.event.organiser)
    if group.event_id != day.event_id:
        raise Invalid("The group belongs to another event: choose one of this event's groups.", field="group")
    entry = store(
        Entry(day=day, rider=bike.rider, bike=bike, group=group, number=number, uses_warmers=uses_warmers)
    )
    touch_days(day.pk)
    wake(DRAFT)
    return entry


@transaction.atomic
def withdraw_entry(*, by: Actor, entry: Entry) -> None:
    """Take an entry off a day; guidance already issued keeps its own copy."""
    require(by, Right.EDIT_EVENT, entry.day.event.organiser)
    touch_days(entry.day_id)
    entry.delete()
    wake(DRAFT)
