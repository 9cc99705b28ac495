"""Say how far a tire still goes before its tread reaches a limit, from every depth reading there is.

Depth falls linearly with severity-weighted distance: over 27 road tires a straight line explained more than 99 %
of it [Brenner1975]. About that line it may bend, and no day wears like another; both widen the answer. Readings that
contradict the line by more than their gauge's noise widen it further instead of moving it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import prod
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science import practice, shifted
from fleet.science.bounds import within
from fleet.science.tread_posterior import Wearing, life_moments

KM_PER_UNIT: Final = 1000.0
CELLS_AT_ONCE: Final = 1024
"""Zones computed together, so that the inner arrays stay in the processor's cache and memory bounded."""


@dataclass(frozen=True)
class RatePrior:
    """A lognormal belief about wear: median in mm per 1000 severity km, sigma of its natural logarithm."""

    median_mm_per_1000km: NDArray[np.float64]
    sigma: NDArray[np.float64]
    readings: NDArray[np.int64]


@dataclass(frozen=True)
class Remaining:
    """The distribution of the distance a tread lasts, one entry per zone or tire, in severity km.

    Attributes
    ----------
    life_mean_km, life_sd_km, life_skewness : from new to the limit; a shifted lognormal distribution
    now_km : distance run so far
    probs, km : quantiles of the distance left, last axis one per probability, never below 0
    chance : of reaching the limit within the distance asked for
    readings : number of depth readings behind the entry
    """

    life_mean_km: NDArray[np.float64]
    life_sd_km: NDArray[np.float64]
    life_skewness: NDArray[np.float64]
    now_km: NDArray[np.float64]
    probs: tuple[float, ...]
    km: NDArray[np.float64]
    chance: NDArray[np.float64]
    readings: NDArray[np.int64]

    def chance_within(self, further_km: ArrayLike) -> NDArray[np.float64]:
        """Return the chance that the limit is reached within a further distance, broadcast with the entries."""
        at = self.now_km + np.asarray(further_km, dtype=np.float64)
        return shifted.chance_below(at, self.life_mean_km, self.life_sd_km, self.life_skewness)

    def at(self, zone: ArrayLike) -> "Remaining":
        """Return each tire's entry at the given place of the last axis, as from ``binding_zone``."""
        index = np.maximum(np.asarray(zone, dtype=np.intp), 0)[..., None]
        return self._each(
            lambda part: np.take_along_axis(part, index, axis=-1)[..., 0],
            lambda km: np.take_along_axis(km, index[..., None], axis=-2)[..., 0, :],
        )

    def flattened(self, shape: tuple[int, ...]) -> "Remaining":
        """Return the entries repeated to a shape and laid out in one dimension."""
        quantiles = len(self.probs)
        return self._each(
            lambda part: np.broadcast_to(part, shape).ravel(),
            lambda km: np.broadcast_to(km, (*shape, quantiles)).reshape(prod(shape), quantiles),
        )

    def part(self, rows: slice) -> "Remaining":
        """Return some of the entries along the first axis."""
        return self._each(lambda part: part[rows], lambda km: km[rows])

    def _each(
        self,
        of_entries: Callable[[NDArray[Any]], NDArray[Any]],
        of_quantiles: Callable[[NDArray[Any]], NDArray[Any]],
    ) -> "Remaining":
        return Remaining(
            life_mean_km=of_entries(self.life_mean_km),
            life_sd_km=of_entries(self.life_sd_km),
            life_skewness=of_entries(self.life_skewness),
            now_km=of_entries(self.now_km),
            probs=self.probs,
            km=of_quantiles(self.km),
            chance=of_entries(self.chance),
            readings=of_entries(self.readings),
        )


def remaining_km(
    distance_km: ArrayLike,
    depth_mm: ArrayLike,
    *,
    limit_mm: ArrayLike,
    new_depth_mm: ArrayLike,
    gauge_sd_mm: ArrayLike = practice.DEPTH_GAUGE_SD_MM,
    rate_prior: RatePrior,
    new_depth_sd_mm: ArrayLike = practice.NEW_DEPTH_SD_MM,
    now_km: ArrayLike | None = None,
    within_km: ArrayLike = 0.0,
    probs: Sequence[float] = (0.1, 0.5, 0.9),
    bend_sd: float = practice.WEAR_BEND_SD,
    day_spread: float = practice.WEAR_DAY_SPREAD,
    allow_misfit: bool = True,
) -> Remaining:
    """Return how far each zone lasts, given all its readings in any order and the prior of its rate.

    Parameters
    ----------
    distance_km, depth_mm : array_like, shape (..., readings)
        Severity km since new and depth in mm of each reading; NaN is padding. No reading at all is fine.
    limit_mm, new_depth_mm, new_depth_sd_mm : array_like, shape (...)
        Depth that ends the life, depth when new and its spread, in mm.
    gauge_sd_mm : array_like, shape (...)
        Standard deviation of one reading in mm.
    rate_prior : RatePrior
        Shape (...).
    now_km : array_like, shape (...), optional
        Distance run so far; the last reading's when left out or when that is further.
    within_km : array_like, shape (...)
        Further distance for which the chance of reaching the limit is asked.
    probs : sequence of float
        Probabilities of the quantiles.
    bend_sd : float
        Standard deviation, over tires, of how much faster than on average a tire wears when new, and slower when
        worn, as a share; 0 for a straight line. At least 0.
    day_spread : float
        Standard deviation of one day's wear about what its distance says, as a share, at least 0.
    allow_misfit : bool
        Whether readings that scatter more than the gauge and the days explain widen the interval.

    Returns
    -------
    Remaining
        Of the common shape (...), to which everything broadcasts; for tires by zones give per-tire figures a last
        axis of length one. The chance is within 0.012 of the exact posterior for beliefs about the rate up to sigma 0.5;
        for wider ones and one steep reading that of an early end can be told 0.055 too small.

    Raises
    ------
    ValueError
        If a distance or depth is negative, a spread not above 0, or the limit not under the new depth.
    """
    x = within("distance_km", np.atleast_1d(np.asarray(distance_km, dtype=np.float64)), at_least=0.0)
    y = within("depth_mm", np.atleast_1d(np.asarray(depth_mm, dtype=np.float64)), at_least=0.0)
    x, y = np.broadcast_arrays(x, y)
    seen_km = np.where(np.isnan(y), np.nan, x)
    last_km = np.fmax.reduce(seen_km, axis=-1, initial=0.0)
    now = last_km if now_km is None else np.maximum(within("now_km", now_km, at_least=0.0), last_km)
    limit, new = within("limit_mm", limit_mm, at_least=0.0), within("new_depth_mm", new_depth_mm, above=0.0)
    within("new_depth_mm less limit_mm", new - limit, above=0.0)
    median = within("rate_prior.median_mm_per_1000km", rate_prior.median_mm_per_1000km, above=0.0)
    further = within("within_km", within_km, at_least=0.0)
    cells = [
        limit,
        new,
        within("new_depth_sd_mm", new_depth_sd_mm, above=0.0),
        within("gauge_sd_mm", gauge_sd_mm, above=0.0),
        np.log(median),
        within("rate_prior.sigma", rate_prior.sigma, above=0.0),
    ]
    shape = np.broadcast_shapes(last_km.shape, now.shape, further.shape, *(cell.shape for cell in cells))
    bend = float(within("bend_sd", bend_sd, at_least=0.0))
    drift = float(within("day_spread", day_spread, at_least=0.0)) ** 2 * practice.USUAL_DAY_KM / KM_PER_UNIT
    mean, sd, skewness = _life(*_in_order(x, y), cells, shape, bend=bend, drift=drift, widen=allow_misfit)
    now = np.broadcast_to(now, shape)
    asked = within("probs", probs, at_least=0.0, at_most=1.0)
    whole = shifted.quantile(asked, mean[..., None], sd[..., None], skewness[..., None])
    chance = shifted.chance_below(now + further, mean, sd, skewness)
    left = np.maximum(whole - now[..., None], 0.0)
    readings = np.broadcast_to((~np.isnan(seen_km)).sum(axis=-1), shape)
    return Remaining(mean, sd, skewness, now, tuple(asked.tolist()), left, chance, readings)


def _in_order(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return readings in order of their distance, at one distance of their depth, padding last."""
    place = np.where(np.isnan(x) | np.isnan(y), np.inf, x)
    if ((place[..., 1:] > place[..., :-1]) | np.isinf(place[..., 1:])).all():
        return x, y
    order = np.lexsort((y, place), axis=-1)
    return np.take_along_axis(x, order, axis=-1), np.take_along_axis(y, order, axis=-1)


def _life(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    cells: list[NDArray[np.float64]],
    shape: tuple[int, ...],
    *,
    bend: float,
    drift: float,
    widen: bool,
) -> tuple[NDArray[np.float64], ...]:
    """Return mean, standard deviation in km and skewness of the whole life, some zones at a time."""
    readings = x.shape[-1]
    tires = shape or (1,)
    views = [np.broadcast_to(cell, tires) for cell in cells]
    series = [np.broadcast_to(values, (*tires, readings)) for values in (x, y)]
    found = np.empty((3, *tires))
    step = max(1, CELLS_AT_ONCE // max(1, prod(tires[1:])))
    for begin in range(0, tires[0], step):
        part = slice(begin, begin + step)
        limit, new, new_sd, noise, prior_u, sigma = (view[part].ravel() for view in views)
        x_part, y_part = (values[part].reshape(limit.size, readings) for values in series)
        wearing = Wearing(
            start=new,
            start_sd=new_sd,
            log_rate=prior_u,
            log_rate_sd=sigma,
            bend_sd=np.full_like(new, bend),
            drift=np.full_like(new, drift),
            limit=limit,
        )
        moments = life_moments(x_part / KM_PER_UNIT, y_part, noise, wearing, widen=widen)
        found[:, part] = np.reshape(moments, found[:, part].shape)
    mean, sd, skewness = found.reshape(3, *shape)
    return mean * KM_PER_UNIT, sd * KM_PER_UNIT, skewness


def binding_zone(remaining: Remaining) -> NDArray[np.intp]:
    """Return for each tire the place of the zone that is worn out first by its median; -1 where none is known.

    The zones of one tire wear under the same rider on the same day, so the worst one speaks for the tire. A zone
    nobody has read does not bind where another one has been read.
    """
    median = shifted.quantile(0.5, remaining.life_mean_km, remaining.life_sd_km, remaining.life_skewness)
    read = remaining.readings > 0
    silent = np.isnan(median) | (~read & read.any(axis=-1, keepdims=True))
    left = np.where(silent, np.inf, median - remaining.now_km)
    return np.where(np.isfinite(left).any(axis=-1), left.argmin(axis=-1), -1)
