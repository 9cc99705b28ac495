"""Writes of entries: an organiser enters riders who agreed to it, and riders enter themselves and leave again.

An entry opens a rider's tire state and pressures to the organiser, so it rests on the rider's will.
"""

from datetime import date, datetime
from typing import Unpack
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet.accounts.models import What
from fleet.accounts.policy import Actor, Right, may, require
from fleet.accounts.trail import Owners, kept_by, note, note_made, values_of
from fleet.celery import wake
from fleet.events.actions.corrections import check_group
from fleet.events.errors import EntriesClosed, NeedsConsent, TooLateToLeave
from fleet.events.models import Day, Entry, Group
from fleet.events.queries import riders_to_enter
from fleet.events.revisions import touch_days
from fleet.garage.models import Bike
from fleet.garage.queries import owns, require_owner
from fleet.inventory.revisions import DRAFT
from fleet.records import store


@transaction.atomic
def enter(*, by: Actor, day: Day, bike: Bike, group: Group, number: str, uses_warmers: bool = False) -> Entry:
    """Enter a bike and its rider, who agreed to it, in a group on a day."""
    organiser = day.event.organiser
    require(by, Right.EDIT_EVENT, organiser)
    if not owns(by, bike.rider) and not riders_to_enter(day).filter(pk=bike.rider_id).exists():
        raise NeedsConsent(
            "This rider has not agreed to ride with you: ask the rider to enter themselves on the event's page, or to share "
            "with you; register a walk-in first."
        )
    entry = Entry(day=day, rider=bike.rider, bike=bike, group=group, number=number, uses_warmers=uses_warmers)
    return _store(entry, by=by, **kept_by(organiser, rider=bike.rider_id))


@transaction.atomic
def enter_oneself(
    *,
    by: Actor,
    at: datetime,
    day: Day,
    bike: Bike,
    group: Group,
    number: str,
    uses_warmers: bool = False,
) -> Entry:
    """Enter a rider's own bike on a day that is not over, of an event that takes entries; its crew needs neither."""
    organiser = day.event.organiser
    require_owner(by, bike.rider)
    if may(by, Right.EDIT_EVENT, organiser):
        return enter(by=by, day=day, bike=bike, group=group, number=number, uses_warmers=uses_warmers)
    if not day.event.takes_entries:
        raise EntriesClosed("This event takes no entries from riders: ask its organiser to enter you.")
    if day.date < _today_at(day, at):
        raise EntriesClosed("This day is over: choose one that is still to come.")
    entry = Entry(day=day, rider=bike.rider, bike=bike, group=group, number=number, uses_warmers=uses_warmers)
    return _store(entry, by=by, rider=bike.rider_id, organisation=organiser)


@transaction.atomic
def withdraw_entry(*, by: Actor, entry: Entry) -> None:
    """Take an entry off a day; guidance already issued keeps its own copy."""
    organiser = entry.day.event.organiser
    require(by, Right.EDIT_EVENT, organiser)
    _delete(entry, by=by, **kept_by(organiser, rider=entry.rider_id))


@transaction.atomic
def leave(*, by: Actor, at: datetime, entry: Entry) -> None:
    """Take a rider's own entry off a day before it comes, whoever made it; its crew may later too."""
    organiser = entry.day.event.organiser
    require_owner(by, entry.rider)
    if may(by, Right.EDIT_EVENT, organiser):
        withdraw_entry(by=by, entry=entry)
        return
    if entry.day.date <= _today_at(entry.day, at):
        raise TooLateToLeave("The day has come, and the crew counts on this entry: ask at the desk.")
    _delete(entry, by=by, rider=entry.rider_id, organisation=organiser)


def _store(entry: Entry, *, by: Actor, **owners: Unpack[Owners]) -> Entry:
    check_group(entry.group, entry.day)
    note_made(store(entry), by=by, **owners)
    touch_days(entry.day_id)
    wake(DRAFT)
    return entry


def _delete(entry: Entry, *, by: Actor, **owners: Unpack[Owners]) -> None:
    touch_days(entry.day_id)
    note(entry, What.WITHDRAWN, by=by, before=values_of(entry), **owners)
    entry.delete()
    wake(DRAFT)


def _today_at(day: Day, at: datetime) -> date:
    return at.astimezone(ZoneInfo(day.layout.track.time_zone)).date()
