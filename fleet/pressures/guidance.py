"""Bridge from a day's facts to its guidance: who rides on what in which weather, and what to set in each part of the day."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

import numpy as np
from django.db import IntegrityError, transaction

from fleet.events.models import Conditions, Day
from fleet.events.parts import DayPart, parts_ahead
from fleet.events.queries import days_on
from fleet.life.heating_rows import learned_heating
from fleet.life.learned import Learned, opened
from fleet.life.models import LearnedModel
from fleet.life.queries import learned_for
from fleet.pressures.lines import (
    LEVEL,
    Asked,
    Computed,
    Wanted,
    compute,
    lines_wanted,
    slot_minutes,
    warmer_kpa_per_c,
)
from fleet.pressures.models import Guidance, GuidanceLine, GuidancePart, Override
from fleet.pressures.moves import Move, moves_since, told_for
from fleet.pressures.overrides import carry_over, standing_overrides
from fleet.pressures.queries import bulletin_in_force, entries_of, fingerprint, mounted_at, newest_guidance
from fleet.pressures.targets import WARMERS_C
from fleet.running.models import PressureReading

LIMITS: Final = {-1: "lower", 0: "", 1: "upper"}


def draft(day: Day, *, at: datetime) -> Guidance | None:
    """Compute and store the guidance of what is left of a day, unless the newest one still holds; nothing without conditions.

    Safe to run twice and by several workers: the database keeps one newest guidance a day, who comes second returns
    what the first stored, and a draft that was begun earlier never takes the place of one begun later.
    """
    day = days_on([day.date]).get(pk=day.pk)  # its revision may have grown since the caller read it
    parts = parts_ahead(day, at=at)
    if not parts:
        return None
    entries = entries_of(day)
    mounted = mounted_at(entries)
    learned = learned_for(LearnedModel.Subject.HEATING)
    current = fingerprint(day, entries=entries, mounted=mounted, parts=parts, learned=learned)
    newest = newest_guidance(day)
    if newest is not None and newest.fingerprint == current:
        return newest
    heating = heating_for(day, learned)
    guidance = Guidance(day=day, fingerprint=current, computed_at=at, conditions=parts[0].conditions)
    rows = {
        part: GuidancePart(
            guidance=guidance,
            name=part.name,
            starts_at=part.starts_at,
            ends_at=part.ends_at,
            conditions=part.conditions,
        )
        for part in parts
    }
    lines = _lines(guidance, rows, lines_wanted(parts, entries, mounted), heating)
    guidance.assumptions = _assumptions(day, heating, learned, lines, parts[0].conditions)
    try:
        with transaction.atomic():
            # Who issues or sets a line by hand holds the day too: nothing they look at goes away under them.
            Day.objects.select_for_update(no_key=True).get(pk=day.pk)
            stored = newest_guidance(day)
            if stored is not None and (stored.fingerprint == current or stored.computed_at > at):
                return stored  # the same, or begun later, so that it knows more
            standing = list(standing_overrides(day))
            Guidance.objects.filter(day=day, is_newest=True).update(is_newest=False)
            guidance.save(force_insert=True)
            GuidancePart.objects.bulk_create(rows.values())
            GuidanceLine.objects.bulk_create(lines)
            carry_over(standing, lines)
            _drop_overtaken(day)
    except IntegrityError:
        return newest_guidance(day)
    return guidance


def _drop_overtaken(day: Day) -> None:
    """Delete the drafts of a day that a newer one took the place of and nobody issued, in as many statements however long they are.

    Deleted the usual way, each of their lines is loaded first, to look for what hangs on it.
    """
    drafts = Guidance.objects.filter(day=day, is_newest=False, bulletins__isnull=True)
    for rows in (
        Override.objects.filter(line__guidance__in=drafts),
        GuidanceLine.objects.filter(guidance__in=drafts),
        GuidancePart.objects.filter(guidance__in=drafts),
        drafts,
    ):
        rows._raw_delete(rows.db)  # noqa: SLF001 -- the only way to say that what hangs on them is gone already


def heating_for(day: Day, learned: LearnedModel | None) -> Learned:
    """Return what is known of how hot tires get, the readings since the last learning included.

    The spreads stay those learned at night; only the effects are solved for again.
    """
    if learned is None:
        return learned_heating()
    is_new = PressureReading.objects.filter(
        stint__day=day, recorded_at__gt=learned.learned_at, voided_at__isnull=True
    )
    return learned_heating(spreads=learned.spreads) if is_new.exists() else opened(learned)


def _lines(
    guidance: Guidance, parts: Mapping[DayPart, GuidancePart], asked: Sequence[Asked], heating: Learned
) -> list[GuidanceLine]:
    if not asked:
        return []
    day = guidance.day
    minutes = slot_minutes(day, {line.group.pk for line in asked})

    def under(weather: Sequence[Conditions]) -> Computed:
        return compute(asked, day=day, weather=weather, heating=heating, minutes=minutes)

    now = under([line.part.conditions for line in asked])
    bulletin = bulletin_in_force(day)
    moves = [Move(None, "")] * len(asked)
    if bulletin is not None:
        told = told_for(bulletin, asked)
        then = under([part.conditions for part, _ in told])
        moves = moves_since([line for _, line in told], asked, now, then)
    return [
        GuidanceLine(
            guidance=guidance,
            part=parts[line.part],
            group=line.group,
            entry=line.entry,
            moved_kpa=move.by_kpa,
            moved_because=move.because,
            **figures,
        )
        for line, move, figures in zip(asked, moves, figures_of(asked, now), strict=True)
    ]


def figures_of(asked: Sequence[Wanted], now: Computed) -> list[dict[str, Any]]:
    """Return what was computed for each line, as it is stored and shown."""
    pressure, target = now.pressure, now.target
    columns = {
        "start_kpa": pressure.start_kpa.round(3),
        "low_kpa": pressure.low_kpa.round(3),
        "high_kpa": pressure.high_kpa.round(3),
        "shown_kpa": pressure.shown_kpa.round(3),
        "hot_target_kpa": target.hot_kpa.round(3),
        "expected_hot_kpa": pressure.expected_hot_kpa.round(3),
        "tire_c": now.tire_c.round(1),
        "expected_gas_c": pressure.expected_gas_c.round(1),
        "limit_hit": np.array([LIMITS[limit] for limit in pressure.limit.tolist()]),
        "basis": target.basis,
        "readings": now.rise.readings,
    }
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return [
        {
            "spec": line.spec,
            "axle": line.spec.axle,
            "uses_warmers": line.uses_warmers,
            **dict(zip(columns, row, strict=True)),
        }
        for line, row in zip(asked, rows, strict=True)
    ]


def _assumptions(
    day: Day,
    heating: Learned,
    learned: LearnedModel | None,
    lines: Sequence[GuidanceLine],
    conditions: Conditions,
) -> dict[str, object]:
    return {
        "level": LEVEL,
        "fill": "dry air or nitrogen; free water inside would raise the hot pressure",
        "tire_temperature": "the tire stands at air temperature when it is set, or comes off warmers",
        "warmer_kpa_per_c": warmer_kpa_per_c(
            [line.start_kpa for line in lines if not line.uses_warmers], conditions
        ),
        "warmers_c": WARMERS_C,
        "effort": "usual",
        "readings_in_model": heating.pooled.rows if heating.pooled else 0,
        "model_learned_at": learned.learned_at.isoformat() if learned else None,
        "track": day.layout.track.code,
        "is_thin": heating.pooled is None,
    }
