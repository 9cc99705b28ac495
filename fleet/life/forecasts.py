"""Bridge from a tire's readings to the line its tread follows, fitted and foretold, with its band."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from fleet.inventory.models import Tire
from fleet.life.histories import History, histories_of
from fleet.life.judging import judged, new_depth_sd_mm
from fleet.life.learned import newest
from fleet.life.models import LearnedModel
from fleet.life.usage import ZONES
from fleet.science import shifted, wear

PROBS: Final = (0.1, 0.5, 0.9)
SHARES: Final = (0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0)


@dataclass(frozen=True)
class Reached:
    """A depth, and the distance at which the tread reaches it: median and the 10 to 90 % band, in km as ridden."""

    depth_mm: float
    low_km: float
    middle_km: float
    high_km: float


@dataclass(frozen=True)
class Forecast:
    """The line one zone follows from new to the wear limit; ``zone`` is empty where none was read yet."""

    zone: str
    now_km: float
    points: tuple[Reached, ...]

    @property
    def ahead(self) -> list[Reached]:
        """Return the depths that are still to come by the median."""
        return [point for point in self.points if point.middle_km > self.now_km]


def forecast_of(tire: Tire, *, at: datetime) -> tuple[History, Forecast]:
    """Return what happened to a tire, and the line of the zone that ends first."""
    [history] = histories_of([tire])
    seen = judged([history], learned=newest(LearnedModel.Subject.WEAR), at=at)
    new_mm, limit_mm = tire.spec.new_depth_mm, tire.spec.wear_limit_mm
    depths = new_mm - (new_mm - limit_mm) * np.array(SHARES)
    place = int(seen.zone[0])
    found = wear.remaining_km(
        seen.series.distance_km[0, place][None, :],
        seen.series.depth_mm[0, place][None, :],
        limit_mm=depths,
        new_depth_mm=new_mm,
        new_depth_sd_mm=new_depth_sd_mm(seen.series, np.array([new_mm]))[0, place],
        rate_prior=seen.prior,
        now_km=seen.series.now_km,
    )
    life = (found.life_mean_km, found.life_sd_km, found.life_skewness)
    km = shifted.quantile(np.array(PROBS), *(part[..., None] for part in life))
    ridden_km, severity_km = sum(run.distance_km for run in history.runs), float(seen.series.now_km[0])
    km = np.maximum(km, 0.0) * (ridden_km / severity_km if severity_km > 0.0 else 1.0)
    points = tuple(
        Reached(float(depth), *(float(one) for one in row)) for depth, row in zip(depths, km, strict=True)
    )
    is_read = any(zone == ZONES[place] for _, zone, _ in history.treads)
    return history, Forecast(ZONES[place] if is_read else "", ridden_km, points)
