"""Bridge from what was known of tires before a day to what the day did to them: whether they lasted, and the tread it took.

What was said is the last assessment of an earlier date. Tread counts where a zone was read between the ride before and the
day's first, and again between the day's last ride and the next.
"""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from math import exp
from typing import Final

from fleet.inventory.models import Tire
from fleet.life.histories import History, Run, histories_of
from fleet.life.learned import newest
from fleet.life.models import Assessment, LearnedModel
from fleet.life.usage import severity_of

Z_80: Final = 1.2816  # NIST/SEMATECH e-Handbook 1.3.6.7.1, table of the normal distribution: 10 and 90 %


@dataclass(frozen=True)
class TireDay:
    """One tire's day: the chance it was given to last it, and the tread it lost beside what was expected, in mm.

    ``expected_mm`` are the 10, 50 and 90 % points for what was ridden. Nothing stands where it was not known.
    """

    tire: Tire
    chance: float | None
    worn_mm: float | None = None
    expected_mm: tuple[float, float, float] | None = None


def tire_days(tires: Iterable[uuid.UUID], *, on: date, track: str) -> list[TireDay]:
    """Return the day of each of some tires that ran on a track on a date: a fixed number of queries."""
    rows = Tire.objects.filter(pk__in=list(tires)).select_related("spec__line", "owner").order_by("pk")
    before = _assessed_before(rows, on)
    multipliers = newest(LearnedModel.Subject.WEAR).multipliers()
    found = []
    for history in histories_of(rows):
        said = before.get(history.tire.pk)
        runs = [run for run in history.runs if run.date == on and run.track == track]
        if not runs:
            continue
        chance = said.chance_next_day if said else None
        worn_mm = _worn_mm(history, runs, said.depth_zone) if said and said.depth_zone else None
        if said is None or worn_mm is None:
            found.append(TireDay(history.tire, chance))
            continue
        ridden_km = float(severity_of(runs, multipliers).sum())
        found.append(TireDay(history.tire, chance, worn_mm, _expected_mm(said, ridden_km)))
    return found


def _assessed_before(tires: Iterable[Tire], on: date) -> dict[uuid.UUID, Assessment]:
    rows = Assessment.objects.filter(tire__in=[tire.pk for tire in tires], assessed_on__lt=on)
    return {row.tire_id: row for row in rows.order_by("assessed_on", "assessed_at")}


def _expected_mm(said: Assessment, ridden_km: float) -> tuple[float, float, float]:
    """Return the wear expected of a distance by the rate that was known, whose logarithm is normal."""
    middle = said.provenance["rate_mm_per_1000km"] * ridden_km / 1000.0
    spread = exp(Z_80 * said.provenance["rate_sigma"])
    return (middle / spread, middle, middle * spread)


def _worn_mm(history: History, runs: Sequence[Run], zone: str) -> float | None:
    """Return what a day took off the zone that was to end first before it; choosing by what was read later would tell too much wear."""
    first, last = runs[0].started_at, max(run.ended_at for run in runs)
    since = max((run.ended_at for run in history.runs if run.ended_at <= first), default=None)
    until = min((run.started_at for run in history.runs if run.started_at >= last), default=None)
    before = _read(history, zone, since, first)
    after = _read(history, zone, last, until)
    return before[-1] - after[0] if before and after else None


def _read(history: History, zone: str, since: datetime | None, until: datetime | None) -> list[float]:
    return [
        depth
        for taken_at, where, depth in history.treads
        if where == zone and (since is None or taken_at >= since) and (until is None or taken_at <= until)
    ]
