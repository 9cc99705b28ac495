"""Compute the pressure to set now so that the tire is right when it is hot, and how sure that is.

Gauge pressures in kPa and true, unless they say that they are shown on a rider's own gauge.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from fleet.science import thermal
from fleet.science.bounds import within
from fleet.science.inflation import gauge_after_kpa, start_gauge_kpa
from fleet.science.practice import REFERENCE_AIR_C
from fleet.science.reference_notes import PooledNotes, huber_location, likeness, pool_reference_notes
from fleet.science.units import FAHRENHEIT_PER_C, KPA_PER_PSI

__all__ = [
    "PooledNotes",
    "StartPressure",
    "Target",
    "huber_location",
    "likeness",
    "needed_hot_kpa",
    "pool_reference_notes",
    "rule_of_thumb_kpa",
    "start_pressure",
]

Array = NDArray[np.float64]

BASES: Final = ("maker hot", "maker cold", "maker off-warmers", "reference notes", "practice")
STANDARD_BAROMETER_KPA: Final = 101.325
RULE_PSI_PER_F: Final = 0.1
_ON_STEP: Final = 1e-9


@dataclass(frozen=True)
class Target:
    """The hot pressure a tire needs, its standard deviation in kPa, what it rests on and how many notes."""

    hot_kpa: Array
    sd_kpa: Array
    basis: NDArray[np.str_]
    notes_used: NDArray[np.int64]


@dataclass(frozen=True)
class StartPressure:
    """Start pressures, one entry per line; the interval is of the pressure needed, before any limit.

    Attributes
    ----------
    start_kpa, low_kpa, high_kpa : true pressure needed, exact, and its interval
    shown_kpa : within the limits and on the gauge's step, as the rider's own gauge reads it
    limit : -1 where the lower limit was hit, 1 the upper, 0 none
    expected_gas_c, gas_low_c, gas_high_c : gas temperature at the end of the slot and its interval
    expected_hot_kpa : true hot pressure that the shown one leads to
    """

    start_kpa: Array
    low_kpa: Array
    high_kpa: Array
    shown_kpa: Array
    limit: NDArray[np.int64]
    expected_gas_c: Array
    gas_low_c: Array
    gas_high_c: Array
    expected_hot_kpa: Array


def needed_hot_kpa(
    *,
    practice_hot_kpa: ArrayLike,
    practice_sd_kpa: ArrayLike,
    practice_rise_c: ArrayLike,
    practice_rise_sd_c: ArrayLike,
    maker_hot_kpa: ArrayLike = np.nan,
    maker_cold_kpa: ArrayLike = np.nan,
    maker_cold_c: ArrayLike = REFERENCE_AIR_C,
    maker_off_warmers_kpa: ArrayLike = np.nan,
    maker_off_warmers_c: ArrayLike = np.nan,
    notes_hot_kpa: ArrayLike = np.nan,
    notes_sd_kpa: ArrayLike = np.nan,
    notes_used: ArrayLike = 0,
    reference_air_c: ArrayLike = REFERENCE_AIR_C,
    barometer_kpa: ArrayLike = STANDARD_BAROMETER_KPA,
) -> Target:
    """Return the hot pressure to aim for, from the best source there is; NaN marks a source that is missing.

    In this order: the maker's hot pressure; the maker's cold or off-warmers pressure carried by the gas law from
    the temperature it refers to, to the one practice expects the gas to settle at in reference air; reference
    notes; common practice.

    Parameters
    ----------
    practice_hot_kpa, practice_sd_kpa, practice_rise_c, practice_rise_sd_c
        From ``practice``; the rise's spread becomes the target's where a maker's pressure is carried.
    maker_hot_kpa, maker_cold_kpa, maker_cold_c, maker_off_warmers_kpa, maker_off_warmers_c
        Published pressures and the temperatures they refer to, which are the tire's.
    notes_hot_kpa, notes_sd_kpa, notes_used
        From ``pool_reference_notes``.
    reference_air_c, barometer_kpa
        Conditions the maker's figures are taken to mean; the result is a gauge pressure under that barometer.

    Raises
    ------
    ValueError
        If a pressure, temperature or barometer is impossible, or an off-warmers pressure lacks its temperature.
    """
    warmers_c = np.asarray(maker_off_warmers_c, dtype=np.float64)
    nameless = ~np.isnan(maker_off_warmers_kpa) & np.isnan(warmers_c)
    if np.any(nameless):
        raise ValueError("maker_off_warmers_c must be given with maker_off_warmers_kpa, not NaN")
    settled = np.asarray(reference_air_c, dtype=np.float64) + within("practice_rise_c", practice_rise_c)
    rise_sd = within("practice_rise_sd_c", practice_rise_sd_c, at_least=0.0)
    cold, cold_sd = _carried(maker_cold_kpa, maker_cold_c, settled, rise_sd, barometer_kpa)
    warm, warm_sd = _carried(maker_off_warmers_kpa, warmers_c, settled, rise_sd, barometer_kpa)
    hot = within("maker_hot_kpa", maker_hot_kpa, above=0.0)
    choices = [
        hot,
        cold,
        warm,
        within("notes_hot_kpa", notes_hot_kpa, above=0.0),
        np.asarray(practice_hot_kpa),
    ]
    spreads = [np.zeros(()), cold_sd, warm_sd, notes_sd_kpa, practice_sd_kpa]
    every = np.broadcast_arrays(*choices, *spreads, notes_used)
    values, sds, notes = every[: len(BASES)], every[len(BASES) : -1], every[-1]
    first = np.argmin(np.isnan(np.stack(values)), axis=0)
    basis = np.asarray(BASES)[first]
    return Target(
        np.asarray(np.choose(first, values), dtype=np.float64),
        np.asarray(np.choose(first, sds), dtype=np.float64),
        np.asarray(basis),
        np.where(basis == "reference notes", notes, 0).astype(np.int64),
    )


def _carried(
    gauge_kpa: ArrayLike, at_c: ArrayLike, settled_c: Array, rise_sd_c: Array, barometer_kpa: ArrayLike
) -> tuple[Array, Array]:
    """Return a published pressure at the settled temperature, and the spread the rise gives it."""
    gauge = within("a maker's pressure", gauge_kpa, above=0.0)
    hot = gauge_after_kpa(gauge, at_c, settled_c, barometer_kpa)
    hotter = gauge_after_kpa(gauge, at_c, settled_c + rise_sd_c, barometer_kpa)
    return hot, hotter - hot


def start_pressure(
    *,
    target_kpa: ArrayLike,
    target_sd_kpa: ArrayLike = 0.0,
    rise_mean_c: ArrayLike,
    rise_sd_c: ArrayLike,
    air_c: ArrayLike,
    tire_c: ArrayLike,
    barometer_kpa: ArrayLike,
    minutes_on_track: ArrayLike,
    time_constant_min: ArrayLike = thermal.ON_TRACK_MIN,
    barometer_when_hot_kpa: ArrayLike | None = None,
    lower_kpa: ArrayLike,
    upper_kpa: ArrayLike,
    step_kpa: ArrayLike,
    gauge_offset_kpa: ArrayLike = 0.0,
    level: float = 0.8,
    df: ArrayLike = np.inf,
    warmers_c: ArrayLike | None = None,
) -> StartPressure:
    """Return the pressures to set at the tire's temperature now that reach the target at the end of the slot.

    The gas relaxes from the temperature the tire leaves the pits with toward air plus rise. The interval carries the
    rise's quantiles through this and the gas law, and joins the target's own in quadrature. A limit goes before
    the target, and the step never leads out of the limits: where no step lies within them the limit is shown as is.

    Parameters
    ----------
    target_kpa, target_sd_kpa
        From ``needed_hot_kpa``.
    rise_mean_c, rise_sd_c, df
        From ``heating.expected_rise``: Student's t with ``df`` degrees of freedom, infinite for normal.
    air_c, tire_c, warmers_c
        Air during the slot, the tire while it is set, and the tire leaving the pits if on warmers (else NaN).
    barometer_kpa, barometer_when_hot_kpa
        Pressure around the tire now and at the end of the slot; the same if the second is left out.
    minutes_on_track, time_constant_min
        Length of the slot and how fast the gas follows.
    lower_kpa, upper_kpa
        Limits of the spec, true pressures.
    step_kpa, gauge_offset_kpa
        Step of the rider's gauge and how much it shows too high.
    level : float
        Probability of the interval, between 0 and 1.

    Raises
    ------
    ValueError
        If limits cross, the step is not above 0, the level not between 0 and 1, a spread negative, or a pressure,
        temperature, barometer or time impossible.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"level must be above 0 and below 1, not {level:g}")
    lower, upper = within("lower_kpa", lower_kpa), within("upper_kpa", upper_kpa)
    within("upper_kpa less lower_kpa", upper - lower, at_least=0.0)
    step, offset = within("step_kpa", step_kpa, above=0.0), within("gauge_offset_kpa", gauge_offset_kpa)
    tail = 0.5 + 0.5 * level
    reach = _quantile(tail, df) * within("rise_sd_c", rise_sd_c, at_least=0.0)
    target_reach = special.ndtri(tail) * within("target_sd_kpa", target_sd_kpa, at_least=0.0)
    set_c = np.asarray(tire_c, dtype=np.float64)
    begun = set_c if warmers_c is None else np.where(np.isnan(warmers_c), set_c, warmers_c)
    settled = within("air_c", air_c) + within("rise_mean_c", rise_mean_c)
    gas, gas_low, gas_high = (
        thermal.relax_c(begun, toward, minutes_on_track, time_constant_min)
        for toward in (settled, settled - reach, settled + reach)
    )

    def needed(hot_kpa: ArrayLike, hot_c: Array) -> Array:
        return start_gauge_kpa(hot_kpa, hot_c, set_c, barometer_kpa, barometer_when_hot_kpa)

    target = np.asarray(target_kpa, dtype=np.float64)
    start = needed(target, gas)
    below = np.hypot(start - needed(target, gas_high), start - needed(target - target_reach, gas))
    above = np.hypot(needed(target, gas_low) - start, needed(target + target_reach, gas) - start)
    kept = np.clip(start, lower, upper)
    shown = _on_step(kept + offset, lower + offset, upper + offset, step)
    hot = gauge_after_kpa(shown - offset, set_c, gas, barometer_kpa, barometer_when_hot_kpa)
    limit = (start > upper).astype(np.int64) - (start < lower).astype(np.int64)
    return StartPressure(start, start - below, start + above, shown, limit, gas, gas_low, gas_high, hot)


def _quantile(prob: float, df: ArrayLike) -> Array:
    freedom = np.asarray(df, dtype=np.float64)
    if np.any(freedom <= 0.0):
        raise ValueError(f"df must be above 0, not {float(freedom.min()):g}")
    return np.asarray(special.stdtrit(freedom, prob), dtype=np.float64)


def _on_step(value: Array, lower: Array, upper: Array, step: Array) -> Array:
    """Return the nearest multiple of the step within the limits, or the value where there is none."""
    lowest, highest = np.ceil(lower / step - _ON_STEP), np.floor(upper / step + _ON_STEP)
    count = np.minimum(np.maximum(np.round(value / step), lowest), highest)
    return np.where(lowest <= highest, count * step, value)


def rule_of_thumb_kpa(hot_kpa: ArrayLike, hot_c: ArrayLike, tire_c: ArrayLike) -> Array:
    """Return the start pressure by the rule "1 psi per 10 F" (common practice, no published source).

    For comparison only: the rule is exact at 38 psi and 20 degrees C, and too strong under it.
    """
    warmer_f = (np.asarray(hot_c, dtype=np.float64) - np.asarray(tire_c, dtype=np.float64)) * FAHRENHEIT_PER_C
    return np.asarray(hot_kpa, dtype=np.float64) - RULE_PSI_PER_F * warmer_f * KPA_PER_PSI
