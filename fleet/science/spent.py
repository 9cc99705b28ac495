"""Give the chance that tread or heat cycles are spent within some riding days.

Distances of riding days are lognormal and independent of each other; everything has one entry per tire.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from fleet.science import practice as common
from fleet.science import shifted
from fleet.science.bounds import within
from fleet.science.remaining import Remaining

Array = NDArray[np.float64]

LEAST_DAYS: Final = 0.01
MOST_DAYS: Final = 400.0
"""Riding days beyond which nobody looks; more than that is told as that many."""

_HALVINGS: Final = 7
_TINY: Final = 1e-12
_NODES, _WEIGHTS = special.roots_hermitenorm(5)
_NODE_SHARES: Final = _WEIGHTS / _WEIGHTS.sum()


def day_distance(days: ArrayLike, day_km: ArrayLike, day_sd_km: ArrayLike) -> tuple[Array, Array]:
    """Return the median in km and sigma of the lognormal distance of some riding days.

    Days are independent of each other, so the spread relative to the mean falls with the square root of their number.

    Parameters
    ----------
    days : array_like
        Riding days, at least 0.
    day_km, day_sd_km : array_like
        Severity km of one riding day, above 0, and its standard deviation from day to day, at least 0.

    Raises
    ------
    ValueError
        If days or a spread are negative, or a distance per day is not above 0.
    """
    count = within("days", days, at_least=0.0)
    mean = within("day_km", day_km, above=0.0)
    relative = within("day_sd_km", day_sd_km, at_least=0.0) / mean
    sigma = np.sqrt(np.log1p(np.square(relative) / np.maximum(count, 1.0)))
    return np.asarray(count * mean * np.exp(-0.5 * sigma * sigma)), np.asarray(sigma)


@dataclass(frozen=True)
class Tread:
    """One tread limit made ready to be asked many times; NaN where it does not apply."""

    life: shifted.Prepared
    now_km: Array

    def chance(self, median_km: Array, sigma: Array) -> Array:
        """Return the chance that the limit is reached within a lognormal further distance.

        Five Gauss-Hermite nodes average over the distance.
        """
        nodes = _NODES.reshape(-1, *(1 for _ in np.broadcast_shapes(median_km.shape, self.now_km.shape)))
        chances = self.life.chance_below(self.now_km + median_km * np.exp(sigma * nodes))
        return np.asarray(np.tensordot(_NODE_SHARES, chances, axes=1))


def ready(remaining: Remaining) -> Tread:
    """Return a tread limit ready to be asked."""
    life = shifted.prepared(remaining.life_mean_km, remaining.life_sd_km, remaining.life_skewness)
    return Tread(life, remaining.now_km)


def tread_chance(tread: Remaining, days: ArrayLike, day_km: ArrayLike, day_sd_km: ArrayLike) -> Array:
    """Return the chance that the tread's limit is reached within some riding days.

    Parameters
    ----------
    tread : Remaining
        Of one zone of each tire, to its limit.
    days, day_km, day_sd_km : array_like
        As for ``day_distance``.

    Raises
    ------
    ValueError
        If days or a spread are negative, or a distance per day is not above 0.
    """
    return ready(tread).chance(*day_distance(days, day_km, day_sd_km))


def cycles_chance(
    days: ArrayLike, cycles_used: ArrayLike, cycles_per_day: ArrayLike, guideline: ArrayLike
) -> Array:
    """Return the chance that a tire's heat cycles are spent within some riding days.

    The guideline is the median of a lognormal distribution with sigma 0.25 (common practice, no published source).

    Parameters
    ----------
    days : array_like
        Riding days, at least 0.
    cycles_used, cycles_per_day : array_like
        Heat cycles so far and per riding day, at least 0.
    guideline : array_like
        Heat cycles a tire is taken to keep its grip for, above 0; NaN where none applies.

    Raises
    ------
    ValueError
        If days or a count are negative, or a guideline is not above 0.
    """
    used = within("cycles_used", cycles_used, at_least=0.0)
    spent = used + within("cycles_per_day", cycles_per_day, at_least=0.0) * within("days", days, at_least=0.0)
    limit = within("guideline", guideline, above=0.0)
    score = np.log(np.maximum(spent, np.finfo(float).tiny) / limit) / common.HEAT_CYCLE_SIGMA
    return np.asarray(special.ndtr(score), dtype=np.float64)


@dataclass(frozen=True)
class Spent:
    """The three limits that are known only by chance, with what they depend on."""

    tread: Tread
    legal_tread: Tread | None
    day_km: Array
    day_sd_km: Array
    cycles_used: Array
    cycles_per_day: Array
    guideline: Array

    def chances(self, days: ArrayLike) -> tuple[Array, Array, Array]:
        """Return the chances that tread, legal tread and heat cycles are spent within some riding days."""
        distance = day_distance(days, self.day_km, self.day_sd_km)
        worn = self.tread.chance(*distance)
        legal = np.zeros(())
        if self.legal_tread is not None:
            applies = ~np.isnan(self.legal_tread.life.mean)
            legal = np.where(applies, self.legal_tread.chance(*distance), 0.0)
        cycles = cycles_chance(days, self.cycles_used, self.cycles_per_day, self.guideline)
        return worn, legal, np.where(np.isnan(self.guideline), 0.0, cycles)

    def any_chance(self, days: ArrayLike) -> Array:
        """Return the chance that any is reached; both tread limits read the same rubber, so the nearer counts."""
        worn, legal, cycles = self.chances(days)
        return np.asarray(1.0 - (1.0 - np.maximum(legal, worn)) * (1.0 - cycles), dtype=np.float64)

    def days_to_first(self, probs: tuple[float, ...], age_days: Array) -> Array:
        """Return quantiles of riding days to the first limit, last axis one per probability, and never past age.

        By halving on the logarithm of days down to a bracket of a tenth, and a straight line in the normal score of
        the chance within it.
        """
        edges = self.any_chance(0.0), self.any_chance(MOST_DAYS)
        shape = np.broadcast_shapes(edges[0].shape, age_days.shape)
        columns = [np.minimum(self._days_to(prob, *edges, shape), age_days) for prob in probs]
        return np.stack(columns, axis=-1)

    def _days_to(self, prob: float, chance_now: Array, chance_last: Array, shape: tuple[int, ...]) -> Array:
        low, high = np.full(shape, np.log(LEAST_DAYS)), np.full(shape, np.log(MOST_DAYS))
        under, over = np.broadcast_to(chance_now, shape), np.broadcast_to(chance_last, shape)
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            chance = self.any_chance(np.exp(middle))
            past = chance >= prob
            low, under = np.where(past, low, middle), np.where(past, under, chance)
            high, over = np.where(past, middle, high), np.where(past, chance, over)
        z_under, z_over = (special.ndtri(np.clip(p, _TINY, 1.0 - _TINY)) for p in (under, over))
        gap = z_over - z_under
        share = np.divide(special.ndtri(prob) - z_under, gap, out=np.zeros_like(gap), where=gap > 0.0)
        days = np.exp(low + np.clip(share, 0.0, 1.0) * (high - low))
        days = np.where(chance_now >= prob, 0.0, np.where(chance_last < prob, MOST_DAYS, days))
        return np.where(np.isnan(chance_now), np.nan, days)
