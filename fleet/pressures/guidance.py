"""Bridge from a day's facts to its guidance: who rides on what in which weather, and what to set."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from django.db import IntegrityError, transaction

from fleet.events.models import Conditions, Day
from fleet.events.queries import conditions_in_force, days_on
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
from fleet.pressures.models import Guidance, GuidanceLine
from fleet.pressures.moves import Move, moves_since
from fleet.pressures.overrides import carry_over, standing_overrides
from fleet.pressures.queries import bulletin_in_force, entries_of, fingerprint, mounted_at, newest_guidance
from fleet.pressures.targets import WARMERS_C
from fleet.running.models import PressureReading

LIMITS: Final = {-1: "lower", 0: "", 1: "upper"}


def draft(day: Day, *, at: datetime) -> Guidance | None:
    """Compute and store the guidance of a day, unless the newest one still holds; nothing without conditions.

    Safe to run twice and by several workers: the database keeps one newest guidance a day, who comes second returns
    what the first stored, and a draft that was begun earlier never takes the place of one begun later.
    """
    day = days_on([day.date]).get(pk=day.pk)  # its revision may have grown since the caller read it
    conditions = conditions_in_force(day, at=at)
    if conditions is None:
        return None
    entries = entries_of(day)
    mounted = mounted_at(entries)
    learned = learned_for(LearnedModel.Subject.HEATING)
    current = fingerprint(day, entries=entries, mounted=mounted, conditions=conditions, learned=learned)
    newest = newest_guidance(day)
    if newest is not None and newest.fingerprint == current:
        return newest
    asked = lines_wanted(entries, mounted)
    heating = heating_for(day, learned)
    lines = _lines(day, asked, conditions, heating)
    guidance = Guidance(
        day=day,
        fingerprint=current,
        computed_at=at,
        conditions=conditions,
        assumptions=_assumptions(day, heating, learned, lines, conditions),
    )
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
            for line in lines:
                line.guidance = guidance
            GuidanceLine.objects.bulk_create(lines)
            carry_over(standing, lines)
            Guidance.objects.filter(day=day, is_newest=False, bulletins__isnull=True).delete()
    except IntegrityError:
        return newest_guidance(day)
    return guidance


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


def _lines(day: Day, asked: Sequence[Asked], conditions: Conditions, heating: Learned) -> list[GuidanceLine]:
    if not asked:
        return []
    minutes = slot_minutes(day, {line.group.pk for line in asked})
    now = compute(asked, day=day, conditions=conditions, heating=heating, minutes=minutes)
    bulletin = bulletin_in_force(day)
    moves: list[Move] = [Move(None, "")] * len(asked)
    if bulletin is not None:
        earlier = bulletin.guidance.conditions
        then = compute(asked, day=day, conditions=earlier, heating=heating, minutes=minutes)
        moves = moves_since(bulletin, asked, now, then)
    return [_line(index, line, now, moves[index]) for index, line in enumerate(asked)]


def _line(index: int, line: Asked, now: Computed, move: Move) -> GuidanceLine:
    figures = figures_of(line, now, index)
    return GuidanceLine(
        group=line.group, entry=line.entry, moved_kpa=move.by_kpa, moved_because=move.because, **figures
    )


def figures_of(line: Wanted, now: Computed, index: int) -> dict[str, Any]:
    """Return what was computed for a line, as it is stored and shown."""
    pressure = now.pressure
    return {
        "spec": line.spec,
        "axle": line.spec.axle,
        "uses_warmers": line.uses_warmers,
        "start_kpa": round(float(pressure.start_kpa[index]), 3),
        "low_kpa": round(float(pressure.low_kpa[index]), 3),
        "high_kpa": round(float(pressure.high_kpa[index]), 3),
        "shown_kpa": round(float(pressure.shown_kpa[index]), 3),
        "hot_target_kpa": round(float(now.target.hot_kpa[index]), 3),
        "expected_hot_kpa": round(float(pressure.expected_hot_kpa[index]), 3),
        "tire_c": round(float(now.tire_c[index]), 1),
        "expected_gas_c": round(float(pressure.expected_gas_c[index]), 1),
        "limit_hit": LIMITS[int(pressure.limit[index])],
        "basis": str(now.target.basis[index]),
        "readings": int(now.rise.readings[index]),
    }


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
