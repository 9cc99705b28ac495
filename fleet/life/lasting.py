"""Telling riders that a set is not likely to last their next event: once for each tire and event."""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from fleet.events.models import Entry
from fleet.events.queries import coming_entries
from fleet.garage.models import Rider
from fleet.inventory.models import Tire
from fleet.life.models import Assessment
from fleet.life.outlook import EVEN, chances_to_last
from fleet.life.queries import sets_of
from fleet.notices.actions import tell
from fleet.notices.models import Notice

TOPIC: Final = "lasting"
TOLD_BEFORE: Final = timedelta(days=8)
"""How long before its first day an event is looked at: early enough to get tires, late enough to be right.
Common practice, no published source."""
NEAR_DAYS: Final = 1.0
"""A median further off than the event's days and this is not asked about: the chance is far above a half."""


def tell_lasting(*, at: datetime) -> int:
    """Tell riders of tires that will rather not last the event they are entered at next; the number told is returned."""
    soon = Rider.objects.filter(
        person__isnull=False,
        entries__day__date__gte=at.date() - timedelta(days=1),
        entries__day__date__lte=at.date() + TOLD_BEFORE,
    ).distinct()
    coming = _next_events(soon, at)
    asked = _asked(soon, coming)
    told = set(
        Notice.objects.filter(topic=TOPIC, about__in=map(_about, asked)).values_list("about", flat=True)
    )
    waiting = [one for one in asked if _about(one) not in told]
    chances = chances_to_last({tire: len(entries) for tire, entries in waiting}, at=at)
    unlikely = [one for one in waiting if chances[one[0].pk] < EVEN]
    for tire, entries in unlikely:
        person = entries[0].rider.person
        if person is not None:
            sentence = _sentence(tire, entries, chances[tire.pk])
            tell([person], topic=TOPIC, about=_about((tire, entries)), sentence=sentence, at=at)
    return len(unlikely)


def _next_events(riders: Iterable[Rider], at: datetime) -> dict[uuid.UUID, list[Entry]]:
    """Return by bike the days left of the event it is entered at next; on its last day nothing is left to prepare for."""
    grouped: dict[uuid.UUID, list[Entry]] = defaultdict(list)
    for entry in coming_entries(riders, at=at):
        known = grouped[entry.bike_id]
        if not known or known[0].day.event_id == entry.day.event_id:
            known.append(entry)
    return {bike: entries for bike, entries in grouped.items() if _is_ahead(entries, at)}


def _is_ahead(entries: list[Entry], at: datetime) -> bool:
    first = entries[0].day
    today = at.astimezone(ZoneInfo(first.layout.track.time_zone)).date()
    return first.date <= today + TOLD_BEFORE and (first.date > today or len(entries) > 1)


def _asked(riders: Iterable[Rider], coming: dict[uuid.UUID, list[Entry]]) -> list[tuple[Tire, list[Entry]]]:
    """Return the tires on the wheels in use whose end may lie within the days of their next event."""
    views = [view for view in sets_of(list(riders)) if view.wheel_pair.bike_id in coming]
    return [
        (mounted.fitting.tire, coming[view.wheel_pair.bike_id])
        for view in views
        for mounted in view.tires.values()
        if not mounted.is_stopped and _is_near(mounted.assessment, len(coming[view.wheel_pair.bike_id]))
    ]


def _is_near(assessment: Assessment | None, days: int) -> bool:
    return assessment is not None and assessment.remaining_days_50 <= days + NEAR_DAYS


def _about(one: tuple[Tire, list[Entry]]) -> str:
    tire, entries = one
    return f"{entries[0].day.event_id}:{tire.pk}"


def _sentence(tire: Tire, entries: list[Entry], chance: float) -> str:
    first, days = entries[0].day, len(entries)
    span = "its day" if days == 1 else f"your {days} days there"
    return (
        f"{first.event}, {first.date:%d %b %Y}: your {tire.spec.get_axle_display().lower()} tire {tire.label_code} is not "
        f"likely to last {span} (chance {chance:.0%}). Reserve tires, or take another set."
    )
