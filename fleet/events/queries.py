"""Reads of events, days, entries and conditions, narrowed to what the asker may see."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from fleet.accounts.policy import SHARED_AFTER_EVENT, Actor, Right, Service, organisations
from fleet.errors import Invalid, NotFound
from fleet.events.models import Conditions, Day, Entry, Event, Slot, Standing, Track
from fleet.garage.models import Rider

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


def conditions_in_force(day: Day, *, at: datetime) -> Conditions | None:
    """Return the conditions that guide a day now.

    The latest observation of the day itself counts while it is fresh, and longer where no forecast is nearer to now;
    before the first slot, what is nearest to that slot counts.
    """
    kept: QuerySet[Conditions] = Conditions.objects.filter(day=day, voided_at__isnull=True)
    midnight = datetime.combine(day.date, time(), ZoneInfo(day.layout.track.time_zone))
    observed: Conditions | None = (
        kept.filter(standing=Standing.OBSERVED, holds_at__gte=midnight, holds_at__lte=at)
        .order_by("-holds_at", "-recorded_at")
        .first()
    )
    if observed is not None and at - observed.holds_at <= OBSERVATION_STAYS_FRESH:
        return observed
    first = Slot.objects.filter(day=day).order_by("starts_at").first()
    moment = max(at, first.starts_at) if first else at
    after = kept.filter(holds_at__gte=moment).order_by("holds_at", "-recorded_at").first()
    before = kept.filter(holds_at__lt=moment).order_by("-holds_at", "-recorded_at").first()
    candidates = [row for row in (observed, after, before) if row is not None]
    return min(candidates, key=lambda row: abs(row.holds_at - moment), default=None)


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
