"""How far a rider goes on a riding day, and how often, for turning distance into days."""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar, Final

import numpy as np
from django.db.models import Count, Q, Sum

from fleet.running.models import Stint

# Common practice, no published source: what is assumed of a rider nobody has seen ride yet.
USUAL_DAY_KM: Final = 110.0
DAY_SPREAD: Final = 0.3
PRIOR_DAYS: Final = 2.0
YEAR: Final = timedelta(days=365)


@dataclass(frozen=True)
class Pace:
    """A rider's distance on a riding day with its spread, the days seen, and the days a year (NaN: not known)."""

    USUAL_CYCLES: ClassVar[float] = 2.0  # common practice, no published source: one before lunch, one after

    day_km: float
    day_sd_km: float
    days: int
    days_per_year: float


def paces_of(riders: set[uuid.UUID], *, at: datetime) -> dict[uuid.UUID, Pace]:
    """Return the pace of some riders in one query; few days are drawn toward the usual distance."""
    rows = (
        Stint.objects.filter(wheel_pair__bike__rider__in=riders, voided_at__isnull=True, day__isnull=False)
        .order_by()
        .values_list("wheel_pair__bike__rider")
        .annotate(
            km=Sum("distance_km"),
            days=Count("day", distinct=True),
            lately=Count("day", distinct=True, filter=Q(started_at__gte=at - YEAR)),
        )
    )
    seen = {rider: (km, days, lately) for rider, km, days, lately in rows}
    return {rider: _pace(*seen.get(rider, (0.0, 0, 0))) for rider in riders}


def _pace(km: float, days: int, lately: int) -> Pace:
    day_km = (PRIOR_DAYS * USUAL_DAY_KM + km) / (PRIOR_DAYS + days)
    return Pace(day_km, DAY_SPREAD * day_km, days, float(lately) if lately else np.nan)
