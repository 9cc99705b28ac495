"""Reads of guidance and bulletins, narrowed to what the asker may see."""

import hashlib
import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import F, Q, QuerySet

from fleet.accounts.policy import Actor, Right, Service, may, organisations
from fleet.catalogue.models import PressureSpec
from fleet.catalogue.queries import shared_notes
from fleet.events.models import Day, Entry
from fleet.events.parts import DayPart, part_at, parts_ahead
from fleet.events.queries import days_on
from fleet.garage.models import Rider
from fleet.garage.queries import own_gauges
from fleet.inventory.models import Fitting
from fleet.inventory.queries import riders_served
from fleet.life.models import LearnedModel
from fleet.life.queries import learned_for
from fleet.pressures.models import Bulletin, Guidance, GuidanceLine

DRAFTED_AHEAD = timedelta(days=1)


def mounted_at(entries: Iterable[Entry]) -> dict[uuid.UUID, list[Fitting]]:
    """Return by bike the fittings on the wheel pair in use, front first."""
    bikes = {entry.bike_id for entry in entries}
    rows = (
        Fitting.objects.filter(
            wheel_pair__bike__in=bikes,
            wheel_pair__is_in_use=True,
            removed_at__isnull=True,
            voided_at__isnull=True,
        )
        .select_related("tire__spec__line", "wheel_pair")
        .order_by("axle")
    )
    mounted: dict[uuid.UUID, list[Fitting]] = {bike: [] for bike in bikes}
    for fitting in rows:
        mounted[fitting.wheel_pair.bike_id].append(fitting)
    return mounted


def entries_of(day: Day) -> list[Entry]:
    """Return a day's entries in the order of their numbers."""
    return list(day.entries.select_related("rider__person", "group", "bike").order_by("number", "id"))


def fingerprint(
    day: Day,
    *,
    entries: list[Entry],
    mounted: dict[uuid.UUID, list[Fitting]],
    parts: Sequence[DayPart],
    learned: LearnedModel | None,
) -> str:
    """Return a digest of everything a day's guidance rests on; guidance with another one is out of date.

    The day's revision grows with its conditions, entries, slots and readings; fittings, riders' gauges, the learned
    model and what is published about the specs are looked at here.
    """
    specs = {fitting.tire.spec for fittings in mounted.values() for fitting in fittings}
    published = PressureSpec.objects.filter(line__in={spec.line_id for spec in specs}).order_by("id")
    notes = shared_notes().filter(spec__in=specs).order_by("id")
    limits = sorted((spec.code, spec.lower_kpa, spec.upper_kpa) for spec in specs)
    known: list[object] = [day.revision, learned.pk if learned else None, limits]
    known += [
        (part.name, part.starts_at.isoformat(), part.ends_at.isoformat(), part.conditions.pk)
        for part in parts
    ]
    known += [
        *published.values_list("id", "pressure_kpa", "reference_c"),
        *notes.values_list("id", flat=True),
    ]
    gauges = own_gauges(entry.rider_id for entry in entries)
    known += sorted((gauge.pk, gauge.offset_kpa, gauge.step_kpa) for gauge in gauges.values())
    known += [
        (entry.pk, entry.uses_warmers, [fitting.tire_id for fitting in mounted[entry.bike_id]])
        for entry in entries
    ]
    return hashlib.sha256(repr(known).encode()).hexdigest()


def days_near(*, at: datetime) -> list[Day]:
    """Return the days that are today or tomorrow at their own track."""
    dates = [at.date() + timedelta(days=shift) for shift in (-1, 0, 1, 2)]
    return [
        day
        for day in days_on(dates)
        if timedelta()
        <= day.date - at.astimezone(ZoneInfo(day.layout.track.time_zone)).date()
        <= DRAFTED_AHEAD
    ]


def newest_guidance(day: Day) -> Guidance | None:
    """Return the newest guidance of a day."""
    return Guidance.objects.filter(day=day, is_newest=True).select_related("conditions").first()


def days_wanting_draft(*, at: datetime) -> list[Day]:
    """Return the days of today and tomorrow whose guidance is missing or rests on something that changed."""
    learned = learned_for(LearnedModel.Subject.HEATING)
    wanting = []
    for day in days_near(at=at):
        parts = parts_ahead(day, at=at)
        if not parts:
            continue
        entries = entries_of(day)
        current = fingerprint(day, entries=entries, mounted=mounted_at(entries), parts=parts, learned=learned)
        newest = newest_guidance(day)
        if newest is None or newest.fingerprint != current:
            wanting.append(day)
    return wanting


def guidance_for(by: Actor, day: Day) -> Guidance | None:
    """Return the newest guidance of a day for the organiser's own crew; riders and vendors read their lines only."""
    return newest_guidance(day) if may(by, Right.READ_GUIDANCE, day.event.organiser) else None


def board_lines(guidance: Guidance) -> QuerySet[GuidanceLine]:
    """Return the lines without riders, in the order they are read: group, line, size, front before rear."""
    return (
        guidance.lines.filter(entry__isnull=True)
        .select_related("part__conditions", "spec__line", "group", "override__made_by")
        .order_by(
            F("group__usual_lap_s").asc(nulls_last=True),
            "group__name",
            "spec__line__maker",
            "spec__line__name",
            "axle",
            "spec__size",
            "uses_warmers",
            "part__starts_at",
        )
    )


def rider_lines(guidance: Guidance) -> QuerySet[GuidanceLine]:
    """Return the lines of entered tires, in the order of the riders' numbers, front before rear."""
    return (
        guidance.lines.filter(entry__isnull=False)
        .select_related("part__conditions", "spec__line", "group", "entry__rider")
        .order_by("entry__number", "axle", "part__starts_at")
    )


def own_lines(rider: Rider, *days: Day, at: datetime) -> list[GuidanceLine]:
    """Return a rider's own lines of the newest guidance of some days, front first: those of the part at hand, the rest of the day behind them."""
    lines = (
        GuidanceLine.objects.filter(guidance__day__in=days, guidance__is_newest=True, entry__rider=rider)
        .select_related("guidance", "part__conditions", "spec__line", "group", "entry__rider__person")
        .order_by("axle", "part__starts_at")
    )
    return at_hand(lines, at=at)


def at_hand(lines: Iterable[GuidanceLine], *, at: datetime) -> list[GuidanceLine]:
    """Return of each entered tire's lines, which come in order of their time, the one for now with those for later behind it."""
    of_tire: dict[tuple[uuid.UUID | None, str], list[GuidanceLine]] = defaultdict(list)
    for line in lines:
        of_tire[line.entry_id, line.axle].append(line)
    found = []
    for rows in of_tire.values():
        now = part_at([row.part for row in rows], at)
        left = [row for row in rows if row.part.starts_at >= now.starts_at]
        left[0].later = tuple(left[1:])
        found.append(left[0])
    return found


def in_force() -> Q:
    """Return the condition on a bulletin for being in force."""
    return Q(superseded_at__isnull=True, withdrawn_at__isnull=True)


def bulletin_in_force(day: Day) -> Bulletin | None:
    """Return the bulletin of a day that counts now."""
    return Bulletin.objects.filter(in_force(), day=day).select_related("issued_by").first()


def bulletins_in_force(days: Iterable[uuid.UUID]) -> dict[uuid.UUID, Bulletin]:
    """Return by day the bulletin that counts now."""
    return {bulletin.day_id: bulletin for bulletin in Bulletin.objects.filter(in_force(), day__in=list(days))}


def bulletins_for(by: Actor) -> QuerySet[Bulletin]:
    """Return the issued bulletins somebody may read: of their own events, those they entered, or a customer did."""
    rows = Bulletin.objects.select_related("day__event", "day__layout__track", "issued_by").order_by(
        "-issued_at", "id"
    )
    if isinstance(by, Service):
        return rows
    served = riders_served(by).values("pk")
    return rows.filter(
        Q(day__event__organiser__in=organisations(by, Right.READ_BULLETIN))
        | Q(day__in=Entry.objects.filter(Q(rider__person=by) | Q(rider__in=served)).values("day"))
    )


def public_bulletin(public_code: str) -> Bulletin | None:
    """Return the bulletin in force at a day's public address."""
    return (
        Bulletin.objects.filter(in_force(), day__public_code=public_code)
        .select_related("day__event", "day__layout__track")
        .first()
    )
