"""Bridge from what people set by hand to the lines that follow it: a rider reads at home what stands on the wall.

A bulletin in force may hold a figure by hand for a spec, a group and a use of warmers. Whoever rides just that sets the
same figure, as their own gauge shows it, and reads beside it what was worked out for them alone.
"""

import uuid
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, TypeAlias

from fleet.events.models import Day
from fleet.garage.models import Instrument, Rider
from fleet.garage.queries import own_gauges
from fleet.pressures.lines import limits_of, step_on
from fleet.pressures.models import Bulletin, ByHand, GuidanceLine
from fleet.pressures.overrides import SLACK_KPA
from fleet.pressures.queries import bulletins_in_force, own_lines
from fleet.pressures.told import lines_told_at
from fleet.science.inflation import gauge_after_kpa
from fleet.science.start_pressure import shown_kpa

Told: TypeAlias = dict[tuple[str, str, bool], dict[str, Any]]


def lines_to_set(
    rider: Rider, *days: Day, at: datetime, bulletins: Mapping[uuid.UUID, Bulletin] | None = None
) -> list[GuidanceLine]:
    """Return a rider's own lines of the newest guidance of some days, as they are to be set now, front first, those for later behind them.

    ``bulletins`` are those in force by day, where the caller has them already.
    """
    now = own_lines(rider, *days, at=at)
    as_issued([one for line in now for one in (line, *line.later)], at=at, bulletins=bulletins)
    return now


def as_issued(
    lines: Iterable[GuidanceLine], *, at: datetime, bulletins: Mapping[uuid.UUID, Bulletin] | None = None
) -> list[GuidanceLine]:
    """Return riders' own lines, those whose spec a bulletin in force sets by hand with its figure on the rider's gauge.

    A line follows what the bulletin says for its own part of the day, and for now where its part is not over.
    """
    found = list(lines)
    if bulletins is None:
        bulletins = bulletins_in_force({line.guidance.day_id for line in found})
    bulletins = {day: bulletin for day, bulletin in bulletins.items() if has_any_by_hand(bulletin)}
    if not bulletins:
        return found
    told: dict[tuple[uuid.UUID, datetime], Told] = {}
    riders = {line.entry.rider_id for line in found if line.entry}
    gauges = own_gauges(riders)
    for line in found:
        if line.entry is not None and (day := line.guidance.day_id) in bulletins:
            moment = line.part.nearest_to(at)
            if (day, moment) not in told:
                told[day, moment] = set_by_hand(bulletins[day], moment)
            rider = line.entry.rider
            follow(
                line,
                line.group.name,
                told[day, moment],
                bulletins[day],
                gauge=gauges.get(rider.pk),
                rider=rider,
            )
    return found


def has_any_by_hand(bulletin: Bulletin) -> bool:
    """Return whether people set any line of a bulletin."""
    return any(line.get("computed_kpa") is not None for line in bulletin.content["lines"])


def set_by_hand(bulletin: Bulletin, moment: datetime) -> Told:
    """Return by spec, group and use of warmers the lines of a bulletin that people set for a moment."""
    return {
        (line["spec"], line["group"], line["uses_warmers"]): line
        for line in lines_told_at(bulletin.content, moment)
        if line.get("computed_kpa") is not None
    }


def follow(
    line: GuidanceLine,
    group: str,
    told: Mapping[tuple[str, str, bool], dict[str, Any]],
    bulletin: Bulletin,
    *,
    gauge: Instrument | None,
    rider: Rider,
) -> None:
    """Put a bulletin's figure by hand in the place of a rider's own one, where it has one for this spec; nothing is stored."""
    by_hand = told.get((line.spec.code, group, line.uses_warmers))
    if by_hand is None:
        return
    set_kpa = float(by_hand["shown_kpa"])
    lower, upper = limits_around(line, set_kpa)
    on_gauge = shown_kpa(
        set_kpa,
        lower_kpa=lower,
        upper_kpa=upper,
        step_kpa=step_on(gauge, rider.person),
        gauge_offset_kpa=gauge.offset_kpa if gauge else 0.0,
    )
    line.by_hand = ByHand(set_kpa, line.shown_kpa, line.tire_c, by_hand["is_beyond_range"], bulletin.number)
    line.shown_kpa = round(float(on_gauge), 3)
    line.expected_hot_kpa, line.tire_c = by_hand["expected_hot_kpa"], by_hand["tire_c"]
    line.limit_hit = ""


def limits_around(line: GuidanceLine, set_kpa: float) -> tuple[float, float]:
    """Return the limits of a line's spec, widened to what a director set beyond them and no further."""
    lower, upper = limits_of(line.spec)
    return (
        lower if lower <= set_kpa else set_kpa - SLACK_KPA,
        upper if upper >= set_kpa else set_kpa + SLACK_KPA,
    )


def as_drafted(lines: Iterable[GuidanceLine]) -> list[GuidanceLine]:
    """Return the lines of a draft's board as a bulletin would have them: with what was set by hand, and how hot that gets."""
    found = list(lines)
    for line in found:
        override = getattr(line, "override", None)
        if override is not None:
            line.by_hand = ByHand(override.set_kpa, line.shown_kpa, line.tire_c, override.is_beyond_range)
            line.shown_kpa, line.limit_hit = override.set_kpa, ""
            line.expected_hot_kpa = reached_kpa(line, override.set_kpa)
    return found


def reached_kpa(line: GuidanceLine, set_kpa: float) -> float:
    """Return the hot pressure a line's tire comes to when it is set to another figure."""
    hot = gauge_after_kpa(set_kpa, line.tire_c, line.expected_gas_c, line.part.conditions.barometer_kpa)
    return round(float(hot), 3)
