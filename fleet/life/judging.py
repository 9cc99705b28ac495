"""Bridge from histories through the science of wear and life to what holds for each tire, for one riding day or several."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import sqrt
from typing import Final

import numpy as np
from django.conf import settings
from numpy.typing import NDArray

from fleet.life.histories import History
from fleet.life.learned import Learned
from fleet.life.pace import Pace, paces_of
from fleet.life.usage import Wear, cycles_of, practice_for, wear_of
from fleet.science import life, wear
from fleet.science.date_codes import age_years
from fleet.science.practice import NEW_DEPTH_SD_MM

SCRUBBED_IN_KM: Final = 10.0  # common practice, no published source: a few laps at a building pace


@dataclass(frozen=True)
class Judged:
    """What the science says about some tires, and what it was asked with; one entry per tire."""

    result: life.Assessment
    pace: list[Pace]
    cycles: NDArray[np.float64]
    days_run: NDArray[np.float64]
    series: Wear
    prior: wear.RatePrior
    zone: NDArray[np.intp]


def judged(histories: Sequence[History], *, learned: Learned, at: datetime, days: int = 1) -> Judged:
    """Return the assessment of each tire, all tires in one call of the science.

    Several ``days`` are asked about as one long riding day: its distance and heat cycles are their sums, its spread that
    of a sum of independent days. The chance to last it is the chance to last them all; what is left is then told in
    stretches of that many days.
    """
    multipliers = learned.multipliers()
    paces = paces_of({history.tire.owner_id for history in histories}, at=at, multipliers=multipliers)
    pace = [paces[history.tire.owner_id] for history in histories]
    known = [practice_for(history.tire.spec) for history in histories]
    cycles = np.array([len(cycles_of(history)) for history in histories], dtype=np.float64)
    series = wear_of(histories, multipliers)
    prior = wear.rate_prior(
        learned.pooled,
        known,
        learned.codes("product", [history.tire.spec.code for history in histories]),
        rider=learned.codes("rider", [history.tire.owner.code for history in histories]),
    )
    tread, zone = _binding_tread(histories, series, prior, _column(histories, "wear_limit_mm"))
    legal, _ = _binding_tread(histories, series, prior, _legal_limits(histories))
    days_run = np.array([len(history.track_km_by_day) for history in histories], dtype=np.float64)
    result = life.assess(
        tread,
        legal_tread=legal,
        day_km=[days * one.day_severity_km for one in pace],
        day_sd_km=[sqrt(days) * one.day_sd_km for one in pace],
        cycles_used=cycles,
        cycles_per_day=days * (Pace.USUAL_CYCLES + cycles) / (1.0 + days_run),
        cycle_guideline=[
            history.tire.spec.heat_cycle_limit or one.heat_cycle_guideline
            for history, one in zip(histories, known, strict=True)
        ],
        age_years=[years_old(history, at) for history in histories],
        riding_days_per_year=[one.days_per_year / days for one in pace],
        is_in_service=[bool(history.runs) for history in histories],
        is_scrubbed_in=[
            sum(run.distance_km for run in history.runs) >= SCRUBBED_IN_KM for history in histories
        ],
        is_on_hold=[history.is_on_hold for history in histories],
        is_damaged=[history.is_damaged for history in histories],
        is_read_worn=[_is_read_worn(history) for history in histories],
    )
    return Judged(result, pace, cycles, days_run, series, prior, zone)


def years_old(history: History, at: datetime) -> float:
    """Return a tire's age, NaN where it is not known."""
    return np.nan if history.tire.made_on is None else age_years(history.tire.made_on, at.date())


def _binding_tread(
    histories: Sequence[History], series: Wear, prior: wear.RatePrior, limit_mm: NDArray[np.float64]
) -> tuple[wear.Remaining, NDArray[np.intp]]:
    """Return what is left to a depth in the zone that ends first, and that zone's place; NaN limits give NaN."""
    new_mm = _column(histories, "new_depth_mm")
    usable = np.where(np.isnan(limit_mm) | (limit_mm >= new_mm), 0.0, limit_mm)
    zones = wear.remaining_km(
        series.distance_km,
        series.depth_mm,
        limit_mm=usable[:, None],
        new_depth_mm=new_mm[:, None],
        new_depth_sd_mm=new_depth_sd_mm(series, new_mm),
        rate_prior=wear.RatePrior(
            prior.median_mm_per_1000km[:, None], prior.sigma[:, None], prior.readings[:, None]
        ),
        now_km=series.now_km[:, None],
    )
    place = wear.binding_zone(zones)
    found = zones.at(place)
    if np.isnan(limit_mm).any():
        found.life_mean_km[np.isnan(limit_mm)] = np.nan
    return found, np.maximum(place, 0)


def _is_read_worn(history: History) -> bool:
    """Return whether the newest reading of some zone is at or under the wear limit."""
    newest_mm = {zone: depth for _, zone, depth in history.treads}
    return any(depth <= history.tire.spec.wear_limit_mm for depth in newest_mm.values())


def new_depth_sd_mm(series: Wear, new_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far each zone of a tire that has not run yet may be from new, in mm.

    A tire may come part-worn: what is read before its first stint then counts, not what the spec says of a new one.
    """
    off_mm = np.where(series.distance_km == 0.0, np.abs(series.depth_mm - new_mm[:, None, None]), np.nan)
    return np.asarray(np.fmax(NEW_DEPTH_SD_MM, np.fmax.reduce(off_mm, axis=-1)), dtype=np.float64)


def _legal_limits(histories: Sequence[History]) -> NDArray[np.float64]:
    """Return the legal minimum for tires that also run on the road, NaN for the others."""
    return np.array(
        [
            settings.LEGAL_TREAD_MM if any(not run.track for run in history.runs) else np.nan
            for history in histories
        ]
    )


def _column(histories: Sequence[History], name: str) -> NDArray[np.float64]:
    return np.array([getattr(history.tire.spec, name) for history in histories], dtype=np.float64)
