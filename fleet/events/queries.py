"""Reads of events, days, entries and conditions, narrowed to what the asker may see."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, Prefetch, Q, QuerySet

from fleet.accounts.digests import digest_of
from fleet.accounts.models import Person
from fleet.accounts.policy import SHARED_AFTER_EVENT, Actor, Right, Service, organisations
from fleet.errors import Invalid, NotFound
from fleet.events.models import CalendarLink, Conditions, Day, Entry, Event, Group, Slot, Standing, Track
from fleet.garage.models import Rider, Sharing

OBSERVATION_STAYS_FRESH: Final = timedelta(hours=2)  # common practice, no published source


def events_for(by: Actor) -> QuerySet[Event]:
    """Return the events somebody may see: those of their organisations and those they entered."""
    rows = Event.objects.select_related("organiser").order_by("code", "id")
    if isinstance(by, Service):
        return rows
    return rows.filter(
        Q(organiser__in=organisations(by, Right.READ_EVENT))
        | Q(pk__in=Entry.objects.filter(rider__person=by).values("day__event"))
    )


def days_for(by: Actor) -> QuerySet[Day]:
    """Return the days of the events somebody may see, the earliest first."""
    return (
        Day.objects.filter(event__in=events_for(by).values("pk"))
        .select_related("event__organiser", "layout__track")
        .order_by("date", "event__code", "id")
    )


def open_days(*, at: datetime) -> QuerySet[Day]:
    """Return the days that riders may enter themselves: of events that take entries, not over anywhere on earth."""
    return (
        Day.objects.filter(event__takes_entries=True, date__gte=at.date() - timedelta(days=1))
        .select_related("event__organiser", "layout__track")
        .order_by("date", "event__code", "id")
    )


def open_to(by: Person, *, at: datetime) -> QuerySet[Day]:
    """Return the open days for somebody who rides, and none for anybody else."""
    return open_days(at=at).filter(Exists(Rider.objects.filter(person=by)))


def days_to_enter(by: Person, *, at: datetime) -> list[Day]:
    """Return the days somebody who rides may enter: open ones that are not over at their own track, with their groups."""
    groups = Prefetch("event__groups", Group.objects.order_by("name", "id"))
    days = open_to(by, at=at).prefetch_related(groups)
    return [day for day in days if day.date >= at.astimezone(ZoneInfo(day.layout.track.time_zone)).date()]


def days_on(dates: list[date]) -> QuerySet[Day]:
    """Return every day on one of some dates, for the jobs."""
    return Day.objects.filter(date__in=dates).select_related("event__organiser", "layout__track")


def entries_for(by: Actor) -> QuerySet[Entry]:
    """Return the entries somebody may see: a rider's own, all of their organisations' events: the roster."""
    rows = Entry.objects.select_related("rider", "bike", "group", "day__event").order_by(
        "day__date", "number", "id"
    )
    if isinstance(by, Service):
        return rows
    return rows.filter(Q(rider__person=by) | Q(day__event__organiser__in=organisations(by, Right.READ_EVENT)))


def entrants_for(by: Actor, *, on: date, right: Right = Right.READ_ENTRANTS) -> QuerySet[Rider]:
    """Return the riders whose tires an organiser's people with a right may see: entrants until 30 days after the day."""
    return Rider.objects.filter(
        pk__in=Entry.objects.filter(
            day__event__organiser__in=organisations(by, right),
            day__date__gte=on - SHARED_AFTER_EVENT,
        ).values("rider")
    )


def coming_entries(riders: Iterable[Rider] | QuerySet[Rider], *, at: datetime) -> list[Entry]:
    """Return the entries of some riders on days that are not over at their own track, the next first."""
    rows = (
        Entry.objects.filter(rider__in=riders, day__date__gte=at.date() - timedelta(days=1))
        .select_related("day__event", "day__layout__track", "group", "rider", "bike")
        .order_by("day__date", "id")
    )
    return [
        entry
        for entry in rows
        if entry.day.date >= at.astimezone(ZoneInfo(entry.day.layout.track.time_zone)).date()
    ]


def riders_to_enter(day: Day) -> QuerySet[Rider]:
    """Return the riders who agreed to ride with a day's organiser, so that its crew may enter them on this day.

    They registered or share there, or ride at this event already, not long before. A walk-in without an account can only have
    agreed at the organiser's own desk, at this event or an earlier one.
    """
    organiser = day.event.organiser
    shares = Sharing.objects.filter(organisation=organiser, withdrawn_at__isnull=True).values("rider")
    here = Entry.objects.filter(day__event=day.event_id)
    long_before = here.filter(day__date__lt=day.date - SHARED_AFTER_EVENT)
    before = Entry.objects.filter(day__event__organiser=organiser)
    rides_here = Q(pk__in=here.values("rider")) & ~Q(pk__in=long_before.values("rider"))
    return Rider.objects.filter(
        Q(registered_with=organiser)
        | Q(pk__in=shares)
        | (Q(person__isnull=False) & rides_here)
        | Q(person__isnull=True, pk__in=before.values("rider"))
    )


def by_pace(groups: QuerySet[Group]) -> QuerySet[Group]:
    """Return groups with the fastest first and those without a usual lap last, on either database."""
    return groups.order_by(F("usual_lap_s").asc(nulls_last=True), "name", "id")


def calendar_link(rider: Rider) -> CalendarLink | None:
    """Return the address a rider's calendar reads at present."""
    return CalendarLink.objects.filter(rider=rider, ended_at__isnull=True).first()


def rider_of_calendar(token: str) -> Rider | None:
    """Return the rider a calendar address belongs to; one that ended or never was belongs to nobody."""
    link = CalendarLink.objects.filter(digest=digest_of(token), ended_at__isnull=True).select_related("rider")
    return link[0].rider if link else None


def calendar_entries(rider: Rider, *, at: datetime) -> list[Entry]:
    """Return a rider's entries of the last 30 days and of those to come, with the slots of each day by group."""
    entries = list(
        Entry.objects.filter(rider=rider, day__date__gte=(at - SHARED_AFTER_EVENT).date())
        .select_related("day__event", "day__layout__track", "group", "bike")
        .order_by("day__date", "id")
    )
    slots: dict[tuple[uuid.UUID, uuid.UUID], list[Slot]] = defaultdict(list)
    for slot in Slot.objects.filter(day__in={entry.day_id for entry in entries}).order_by("starts_at", "id"):
        slots[slot.day_id, slot.group_id].append(slot)
    for entry in entries:
        entry.own_slots = slots[entry.day_id, entry.group_id]  # type: ignore[attr-defined]
    return entries


def conditions_for(by: Actor) -> QuerySet[Conditions]:
    """Return the conditions of the days somebody may see, in order of their time."""
    return (
        Conditions.objects.filter(day__event__in=events_for(by).values("pk"))
        .select_related("recorded_by")
        .order_by("holds_at", "recorded_at", "id")
    )


def slots_for(by: Actor) -> QuerySet[Slot]:
    """Return the slots of the days somebody may see, in order of their time."""
    return (
        Slot.objects.filter(day__event__in=events_for(by).values("pk"))
        .select_related("group", "day")
        .order_by("starts_at", "id")
    )


def kept_conditions(day: Day) -> list[Conditions]:
    """Return what is known of a day's weather in order of its time, what was written down later first."""
    rows = Conditions.objects.filter(day=day, voided_at__isnull=True)
    return list(rows.order_by("holds_at", "-recorded_at", "id"))


def conditions_in_force(day: Day, *, at: datetime) -> Conditions | None:
    """Return the conditions that guide a day now."""
    return weather_now(day, kept_conditions(day), day.slots.order_by("starts_at")[:1], at=at)


def weather_now(
    day: Day, rows: Sequence[Conditions], slots: Iterable[Slot], *, at: datetime
) -> Conditions | None:
    """Return of what is known of a day's weather what guides it now; the slots come in order of their time.

    The latest observation of the day itself counts while it is fresh, and longer where no forecast is nearer to now;
    before the first slot, what is nearest to that slot counts.
    """
    midnight = datetime.combine(day.date, time(), ZoneInfo(day.layout.track.time_zone))
    observed = [row for row in rows if row.standing == Standing.OBSERVED and midnight <= row.holds_at <= at]
    latest = max(observed, key=lambda row: (row.holds_at, row.recorded_at), default=None)
    if latest is not None and at - latest.holds_at <= OBSERVATION_STAYS_FRESH:
        return latest
    first = next(iter(slots), None)
    moment = max(at, first.starts_at) if first else at
    return nearest_to(moment, [latest, *rows] if latest else rows)


def nearest_to(moment: datetime, rows: Sequence[Conditions]) -> Conditions | None:
    """Return what is known nearest to a moment; of two as near what comes first."""
    return min(rows, key=lambda row: abs(row.holds_at - moment), default=None)


def tracks() -> QuerySet[Track]:
    """Return all tracks; they are public places."""
    return Track.objects.prefetch_related("layouts").order_by("name", "id")


def find_day(event_code: str, date_text: str) -> Day:
    """Return a day by its event's code and its date; an unknown one is refused with what there is instead."""
    days = Day.objects.filter(event__code=event_code).select_related("event__organiser", "layout__track")
    try:
        wanted = date.fromisoformat(date_text)
    except ValueError as error:
        raise Invalid(f"{date_text!r} is no date: write it as 2026-06-12.", field="day") from error
    found = days.filter(date=wanted).first()
    if found is None:
        known = ", ".join(f"{day.date:%Y-%m-%d}" for day in days.order_by("date"))
        raise NotFound(
            f"{event_code} has no day on {wanted}; it has {known}."
            if known
            else f"No event has the code {event_code}."
        )
    return found
