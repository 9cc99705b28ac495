"""How far a rider goes on a riding day, and how often, for turning distance into days."""

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar, Final

import numpy as np
from django.db.models import Max, Sum

from fleet.life.usage import severity_of
from fleet.running.models import Stint
from fleet.science.practice import USUAL_DAY_KM

# Common practice, no published source: what is assumed of a rider nobody has seen ride yet.
DAY_SPREAD: Final = 0.35
PRIOR_DAYS: Final = 2.0
YEAR: Final = timedelta(days=365)


@dataclass(frozen=True)
class Pace:
    """A rider's riding day, the days seen, and the days a year (NaN: not known).

    ``day_km`` is what the rider covers, ``day_severity_km`` the distance on an ordinary track at usual effort that
    would wear a tire as much, and ``day_sd_km`` the spread of the latter from day to day.
    """

    # Common practice, no published source: four stints an hour apart without warmers, one or two with them.
    USUAL_CYCLES: ClassVar[float] = 3.0

    day_km: float
    day_severity_km: float
    day_sd_km: float
    days: int
    days_per_year: float


@dataclass(frozen=True)
class _Part:
    """What a rider covered on one day at one track and effort."""

    day: uuid.UUID
    track: str
    effort: float | None
    distance_km: float
    latest: datetime


def paces_of(
    riders: set[uuid.UUID], *, at: datetime, multipliers: Mapping[str, float]
) -> dict[uuid.UUID, Pace]:
    """Return the pace of some riders in one query; few days are drawn toward the usual distance.

    ``multipliers`` says by track how many times an ordinary track's wear it costs.
    """
    rows = (
        Stint.objects.filter(wheel_pair__bike__rider__in=riders, voided_at__isnull=True, day__isnull=False)
        .order_by()
        .values_list("wheel_pair__bike__rider", "day", "layout__track__code", "effort")
        .annotate(km=Sum("distance_km"), latest=Max("started_at"))
    )
    parts: dict[uuid.UUID, list[_Part]] = defaultdict(list)
    for rider, day, track, effort, km, latest in rows:
        parts[rider].append(_Part(day, track, effort, km, latest))
    return {rider: _pace(parts[rider], since=at - YEAR, multipliers=multipliers) for rider in riders}


def _pace(parts: Sequence[_Part], *, since: datetime, multipliers: Mapping[str, float]) -> Pace:
    days = {part.day for part in parts}
    lately = {part.day for part in parts if part.latest >= since}

    def drawn(km: float) -> float:
        return (PRIOR_DAYS * USUAL_DAY_KM + km) / (PRIOR_DAYS + len(days))

    severity_km = drawn(float(severity_of(parts, multipliers).sum()))
    return Pace(
        day_km=drawn(sum(part.distance_km for part in parts)),
        day_severity_km=severity_km,
        day_sd_km=DAY_SPREAD * severity_km,
        days=len(days),
        days_per_year=float(len(lately)) if lately else np.nan,
    )
