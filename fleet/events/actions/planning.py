"""Writes of tracks, events, days, groups and slots."""

from datetime import date, datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require, require_service
from fleet.accounts.trail import kept_by, note_made
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.actions.corrections import check_group, check_on_day
from fleet.events.models import Day, DayParts, Event, Group, Layout, Slot, Track
from fleet.events.revisions import touch_days
from fleet.inventory.revisions import DRAFT
from fleet.records import store


@transaction.atomic
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
    track = store(
        Track(
            code=code,
            name=name,
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            altitude_m=altitude_m,
            time_zone=time_zone,
        )
    )
    return note_made(track, by=by)


@transaction.atomic
def add_layout(*, by: Actor, track: Track, code: str, name: str, length_km: float) -> Layout:
    """Store a way of running a track."""
    require_service(by)
    return note_made(store(Layout(track=track, code=code, name=name, length_km=length_km)), by=by)


@transaction.atomic
def plan_event(
    *, by: Actor, organiser: Organisation, code: str, name: str, takes_entries: bool = False
) -> Event:
    """Store an event of an organiser; one that takes entries is shown to riders, who enter themselves."""
    require(by, Right.EDIT_EVENT, organiser)
    if not organiser.is_organiser:
        raise Invalid(
            "Events are run by an organiser; this organisation is a vendor only.", field="organiser"
        )
    event = store(Event(organiser=organiser, code=code, name=name, takes_entries=takes_entries))
    return note_made(event, by=by, **kept_by(organiser))


@transaction.atomic
def add_day(*, by: Actor, event: Event, date: date, layout: Layout, parts: str = DayParts.THREE) -> Day:
    """Store a date of an event on a layout, and the parts it is guided by."""
    require(by, Right.EDIT_EVENT, event.organiser)
    day = store(Day(event=event, date=date, layout=layout, parts=parts))
    return note_made(day, by=by, **kept_by(event.organiser))


@transaction.atomic
def add_group(*, by: Actor, event: Event, name: str, usual_lap_s: float | None = None) -> Group:
    """Store a pace group of an event."""
    require(by, Right.EDIT_EVENT, event.organiser)
    group = store(Group(event=event, name=name, usual_lap_s=usual_lap_s))
    return note_made(group, by=by, **kept_by(event.organiser))


@transaction.atomic
def add_slot(*, by: Actor, day: Day, group: Group, starts_at: datetime, ends_at: datetime) -> Slot:
    """Store a group's time on track."""
    require(by, Right.EDIT_EVENT, day.event.organiser)
    check_group(group, day)
    check_on_day(starts_at, day)
    slot = store(Slot(day=day, group=group, starts_at=starts_at, ends_at=ends_at))
    note_made(slot, by=by, **kept_by(day.event.organiser))
    touch_days(day.pk)
    wake(DRAFT)
    return slot
