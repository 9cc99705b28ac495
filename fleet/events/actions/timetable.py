"""Writes of a day's whole timetable, and of what one event takes over from an earlier one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import Actor, Right, require
from fleet.accounts.trail import correct, kept_by, note, note_made, values_of
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.actions.corrections import check_group
from fleet.events.actions.planning import add_day, add_group, plan_event
from fleet.events.errors import PlanChanged
from fleet.events.models import Day, Event, Layout, Slot
from fleet.events.queries import by_pace
from fleet.events.revisions import touch_days
from fleet.events.timetable import LineFault, PlannedSlot, read_timetable, text_of
from fleet.inventory.revisions import DRAFT
from fleet.records import store

MOST_DAYS = 14


@dataclass(frozen=True)
class PlanChange:
    """What setting a timetable does to the one there is."""

    new: list[PlannedSlot]
    kept: int
    longer_or_shorter: list[tuple[Slot, datetime]]
    gone: list[Slot]

    @property
    def is_nothing(self) -> bool:
        """Return whether everything stays as it is."""
        return not (self.new or self.longer_or_shorter or self.gone)


def change_of(day: Day, planned: Sequence[PlannedSlot]) -> PlanChange:
    """Return what a planned timetable would change; a slot is the same when its group and its beginning are."""
    standing = {
        (slot.group_id, slot.starts_at): slot
        for slot in day.slots.select_related("group").order_by("starts_at", "id")
    }
    new, moved, kept = [], [], 0
    for one in planned:
        slot = standing.pop((one.group.pk, one.starts_at), None)
        if slot is None:
            new.append(one)
        elif slot.ends_at != one.ends_at:
            moved.append((slot, one.ends_at))
        else:
            kept += 1
    return PlanChange(new, kept, moved, list(standing.values()))


@transaction.atomic
def set_timetable(
    *, by: Actor, day: Day, planned: Sequence[PlannedSlot], seen_revision: int | None = None
) -> PlanChange:
    """Make a day's times on track those of a timetable: what is new is added, what it leaves out goes.

    ``seen_revision`` is the day's revision that was looked at; when it has grown, nothing is changed.
    """
    require(by, Right.EDIT_EVENT, day.event.organiser)
    held = Day.objects.select_for_update(no_key=True).get(pk=day.pk)
    if seen_revision is not None and held.revision != seen_revision:
        raise PlanChanged("Something about this day changed since you looked: look again, then set it.")
    change = change_of(day, planned)
    owners = kept_by(day.event.organiser)
    for slot in change.gone:
        note(slot, What.WITHDRAWN, by=by, before=values_of(slot), **owners)
        slot.delete()
    for slot, ends_at in change.longer_or_shorter:
        correct(slot, {"ends_at": ends_at}, by=by, **owners)
    for one in change.new:
        check_group(one.group, day)
        made = Slot(day=day, group=one.group, starts_at=one.starts_at, ends_at=one.ends_at)
        note_made(store(made), by=by, **owners)
    if not change.is_nothing:
        touch_days(day.pk)
        wake(DRAFT)
    return change


@transaction.atomic
def set_up_event(
    *,
    by: Actor,
    organiser: Organisation,
    code: str,
    name: str,
    layout: Layout,
    first_day: date,
    days: int,
    groups: Sequence[tuple[str, float | None]],
    takes_entries: bool = False,
) -> Event:
    """Store an event with its days, one after another on one layout, and its pace groups, in one go."""
    require(by, Right.EDIT_EVENT, organiser)
    if not 1 <= days <= MOST_DAYS:
        raise Invalid(
            f"An event has 1 to {MOST_DAYS} days: longer ones are events of their own.", field="days"
        )
    event = plan_event(by=by, organiser=organiser, code=code, name=name, takes_entries=takes_entries)
    for shift in range(days):
        add_day(by=by, event=event, date=first_day + timedelta(days=shift), layout=layout)
    for group_name, usual_lap_s in groups:
        add_group(by=by, event=event, name=group_name, usual_lap_s=usual_lap_s)
    return event


@transaction.atomic
def begin_like(*, by: Actor, event: Event, earlier: Event) -> list[LineFault]:
    """Take over an earlier event's pace groups that this one lacks, and its timetable day by day, at the same local times.

    An event with more days than the earlier one gives each further day the earlier one's last. What cannot stand on a day is
    returned, and everything else taken over.
    """
    require(by, Right.EDIT_EVENT, event.organiser)
    require(by, Right.READ_EVENT, earlier.organiser)
    there = {name.casefold() for name in event.groups.values_list("name", flat=True)}
    for group in by_pace(earlier.groups.all()):
        if group.name.casefold() not in there:
            add_group(by=by, event=event, name=group.name, usual_lap_s=group.usual_lap_s)
    texts = [timetable_text(day) for day in earlier.days.order_by("date").select_related("layout__track")]
    groups = list(event.groups.all())
    faults: list[LineFault] = []
    for place, day in enumerate(
        event.days.order_by("date").select_related("event__organiser", "layout__track")
    ):
        if texts:
            read = read_timetable(texts[min(place, len(texts) - 1)], day=day, groups=groups)
            faults += read.faults
            set_timetable(by=by, day=day, planned=read.slots)
    return faults


def timetable_text(day: Day) -> str:
    """Return a day's times on track as text that can be changed and set again."""
    slots = day.slots.select_related("group").order_by("starts_at", "ends_at", "group__name", "id")
    return text_of(slots, zone=day.layout.track.time_zone)
