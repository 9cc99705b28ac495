"""Join everything that ends a tire's life into one answer: chance to last, days left, what binds, in which state.

Tread, legal tread and heat cycles are uncertain and taken as independent of each other; age, holds and damage are
facts. Days are riding days of the tire's own rider. The state words follow ``DOUBTFUL`` and ``SURE`` below.
"""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from fleet.science import practice as common
from fleet.science import shifted
from fleet.science.bounds import within
from fleet.science.remaining import Remaining

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LIMITS: Final = ("hold", "damage", "age", "tread", "legal tread", "heat cycles")
STATES: Final = ("stand down", "fresh", "last day", "plan a change", "in service")

LIKELY: Final = 0.5
"""A limit is likely to be reached from this chance on; tread that is likely through already is at its limit."""

SURE: Final = 0.9
"""Heat cycles are a guideline: only this sure that it is behind the tire is it a limit reached."""

# Advice of a tire trade body of June 2001: not into service after 6 years, replace at 10 [TradeBody2001].
SERVICE_AGE_YEARS: Final = 6.0
REPLACE_AGE_YEARS: Final = 10.0

LEGAL_MINIMUM_MM: Final = MappingProxyType({"GB": 1.0, "DE": 1.6, "US": 0.8})
"""Legal tread by country, for a motorcycle on the road: three quarters of the breadth in Britain [CUR1986], the main
grooves in Germany [StVZO36], the wear indicator in the United States [CFR571], where state law differs."""

PROBS: Final = (0.1, 0.5, 0.9)
LEAST_DAYS: Final = 0.01
MOST_DAYS: Final = 400.0
"""Riding days beyond which nobody looks; more than that is told as that many."""

_HALVINGS: Final = 16
_NODES, _WEIGHTS = special.roots_hermitenorm(5)
_NODE_SHARES: Final = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Assessment:
    """What holds for each tire, one entry per tire.

    Attributes
    ----------
    chance_to_last_next_day : that no limit is reached during the next riding day
    remaining_days : (..., 3) quantiles 0.1, 0.5 and 0.9 of riding days to the first limit
    binding_limit : "tread", "legal tread", "heat cycles", "age", "hold" or "damage"
    state : word of the trade; both words are empty where a figure that decides is not known
    """

    chance_to_last_next_day: Array
    remaining_days: Array
    binding_limit: NDArray[np.str_]
    state: NDArray[np.str_]


def day_distance(days: ArrayLike, day_km: ArrayLike, day_sd_km: ArrayLike) -> tuple[Array, Array]:
    """Return the median in km and sigma of the lognormal distance of some riding days.

    Days are independent of each other, so the spread relative to the mean falls with the square root of their number.
    """
    count = np.asarray(days, dtype=np.float64)
    mean = within("day_km", day_km, above=0.0)
    relative = within("day_sd_km", day_sd_km, at_least=0.0) / mean
    sigma = np.sqrt(np.log1p(np.square(relative) / np.maximum(count, 1.0)))
    return np.asarray(count * mean * np.exp(-0.5 * sigma * sigma)), np.asarray(sigma)


def tread_chance(tread: Remaining, days: ArrayLike, day_km: ArrayLike, day_sd_km: ArrayLike) -> Array:
    """Return the chance that the tread's limit is reached within some riding days, distance averaged over.

    The distance is lognormal; five Gauss-Hermite nodes average over it.
    """
    median, sigma = day_distance(days, day_km, day_sd_km)
    further = median[..., None] * np.exp(sigma[..., None] * _NODES)
    parts = (tread.now_km, tread.life_mean_km, tread.life_sd_km, tread.life_skewness)
    now, mean, sd, skewness = (part[..., None] for part in parts)
    return np.asarray(
        shifted.chance_below(now + further, mean, sd, skewness) @ _NODE_SHARES, dtype=np.float64
    )


def cycles_chance(
    days: ArrayLike, cycles_used: ArrayLike, cycles_per_day: ArrayLike, guideline: ArrayLike
) -> Array:
    """Return the chance that a tire's heat cycles are spent within some riding days.

    The guideline is the median of a lognormal distribution with sigma 0.25 (common practice, no published source).
    """
    used = within("cycles_used", cycles_used, at_least=0.0)
    spent = used + within("cycles_per_day", cycles_per_day, at_least=0.0) * np.asarray(days, dtype=np.float64)
    limit = within("guideline", guideline, above=0.0)
    score = np.log(np.maximum(spent, np.finfo(float).tiny) / limit) / common.HEAT_CYCLE_SIGMA
    return np.asarray(special.ndtr(score), dtype=np.float64)


def assess(
    tread: Remaining,
    *,
    legal_tread: Remaining | None = None,
    day_km: ArrayLike,
    day_sd_km: ArrayLike,
    cycles_used: ArrayLike,
    cycles_per_day: ArrayLike,
    cycle_guideline: ArrayLike,
    age_years: ArrayLike,
    years_to_next_day: ArrayLike = 0.0,
    riding_days_per_year: ArrayLike = np.nan,
    is_in_service: ArrayLike = True,
    is_scrubbed_in: ArrayLike = True,
    is_on_hold: ArrayLike = False,
    is_damaged: ArrayLike = False,
) -> Assessment:
    """Return each tire's assessment; everything broadcasts to the shape of the tires.

    Parameters
    ----------
    tread, legal_tread : Remaining
        Of the binding zone, to the wear limit and, where the tire must be road legal, to the legal minimum. An entry
        of ``legal_tread`` that is NaN does not apply.
    day_km, day_sd_km : array_like
        Severity km of one riding day, mean and standard deviation from day to day.
    cycles_used, cycles_per_day, cycle_guideline : array_like
        Heat cycles so far, per riding day, and the guideline (NaN: none applies).
    age_years, years_to_next_day : array_like
        Age now (NaN: not known, which does not bind) and how far off the next riding day is.
    riding_days_per_year : array_like
        Turns the years to the age limit into riding days; NaN leaves age out until it is reached.
    is_in_service, is_scrubbed_in, is_on_hold, is_damaged : array_like of bool
        A tire not in service meets the age limit of 6 years, any tire that of 10.

    Returns
    -------
    Assessment
        States: "stand down" when a limit is reached (tread likely through, heat cycles surely spent) or a hold is on;
        else "fresh" when not scrubbed in; else "last day" or "plan a change" when a limit is likely, by a
        chance of a half, within the next one or two riding days; else "in service".

    Raises
    ------
    ValueError
        If a distance per day is not above 0, or a count, age or spread is negative.
    """
    flags = np.broadcast_arrays(is_on_hold, is_damaged, is_in_service, is_scrubbed_in)
    on_hold, damaged, in_service, scrubbed = (np.asarray(flag, dtype=np.bool_) for flag in flags)
    spent = _Spent(tread, legal_tread, day_km, day_sd_km, cycles_used, cycles_per_day, cycle_guideline)
    too_old, age_days = _age_limit(age_years, years_to_next_day, riding_days_per_year, in_service)
    worn, legal, cycles = spent.chances(0.0)
    reached = np.stack(
        np.broadcast_arrays(on_hold, damaged, too_old, worn >= LIKELY, legal >= LIKELY, cycles >= SURE)
    )
    stopped = np.asarray(reached.any(axis=0), dtype=np.bool_)
    days = np.where(stopped[..., None], 0.0, spent.days_to_first(age_days))
    soon, later = (np.where(age_days < ahead, 1.0, spent.any_chance(ahead)) for ahead in (1.0, 2.0))
    binding = np.where(stopped, reached.argmax(axis=0), _binding(spent, days[..., 1], age_days))
    words = np.broadcast_arrays(stopped, ~scrubbed, soon >= LIKELY, later >= LIKELY)
    state = np.select(words, STATES[:-1], STATES[-1])
    unknown = ~stopped & np.isnan(soon + days[..., 1])
    return Assessment(
        np.where(stopped, 0.0, 1.0 - soon),
        days,
        np.where(unknown, "", np.asarray(LIMITS)[binding]),
        np.where(unknown, "", state),
    )


@dataclass(frozen=True)
class _Spent:
    """The three limits that are known only by chance, with what they depend on."""

    tread: Remaining
    legal_tread: Remaining | None
    day_km: ArrayLike
    day_sd_km: ArrayLike
    cycles_used: ArrayLike
    cycles_per_day: ArrayLike
    guideline: ArrayLike

    def chances(self, days: ArrayLike) -> tuple[Array, Array, Array]:
        """Return the chances that tread, legal tread and heat cycles are spent within some riding days."""
        worn = tread_chance(self.tread, days, self.day_km, self.day_sd_km)
        legal = np.zeros(())
        if self.legal_tread is not None:
            legal = tread_chance(self.legal_tread, days, self.day_km, self.day_sd_km)
            legal = np.where(np.isnan(self.legal_tread.life_mean_km), 0.0, legal)
        cycles = cycles_chance(days, self.cycles_used, self.cycles_per_day, self.guideline)
        return worn, legal, np.where(np.isnan(self.guideline), 0.0, cycles)

    def any_chance(self, days: ArrayLike) -> Array:
        """Return the chance that any is reached; both tread limits read the same rubber, so the nearer counts."""
        worn, legal, cycles = self.chances(days)
        return np.asarray(1.0 - (1.0 - np.maximum(legal, worn)) * (1.0 - cycles), dtype=np.float64)

    def days_to_first(self, age_days: Array) -> Array:
        """Return the quantiles of riding days to the first limit, (..., 3), by halving on the logarithm of days."""
        chance_now = self.any_chance(0.0)
        shape = np.broadcast_shapes(chance_now.shape, age_days.shape)
        quantiles = []
        for prob in PROBS:
            low, high = np.full(shape, np.log(LEAST_DAYS)), np.full(shape, np.log(MOST_DAYS))
            for _ in range(_HALVINGS):
                middle = 0.5 * (low + high)
                past = self.any_chance(np.exp(middle)) >= prob
                low, high = np.where(past, low, middle), np.where(past, middle, high)
            days = np.where(chance_now >= prob, 0.0, np.exp(high))
            quantiles.append(np.where(np.isnan(chance_now), np.nan, np.minimum(days, age_days)))
        return np.stack(quantiles, axis=-1)


def _age_limit(
    age_years: ArrayLike, years_to_next_day: ArrayLike, riding_days_per_year: ArrayLike, is_in_service: Mask
) -> tuple[Mask, Array]:
    """Return whether the age limit is reached by the next riding day, and the riding days until 10 years."""
    then = within("age_years", age_years, at_least=0.0) + within(
        "years_to_next_day", years_to_next_day, at_least=0.0
    )
    per_year = within("riding_days_per_year", riding_days_per_year, above=0.0)
    too_old = then >= np.where(is_in_service, REPLACE_AGE_YEARS, SERVICE_AGE_YEARS)
    days = (REPLACE_AGE_YEARS - then) * per_year
    return np.asarray(too_old, dtype=np.bool_), np.where(np.isnan(days), np.inf, np.maximum(days, 0.0))


def _binding(spent: _Spent, median_days: Array, age_days: Array) -> NDArray[np.intp]:
    """Return the place in ``LIMITS`` of the limit most likely reached by the median day; age if that ends it."""
    likeliest = np.stack(np.broadcast_arrays(*spent.chances(np.nan_to_num(median_days)))).argmax(axis=0)
    return np.where(age_days <= median_days, LIMITS.index("age"), likeliest + LIMITS.index("tread"))
