"""Compute the pressure to set now so that the tire is right when it is hot, and how sure that is.

Gauge pressures in kPa and true, unless they say that they are shown on a rider's own gauge.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from fleet.science import thermal
from fleet.science.bounds import ABSOLUTE_ZERO_C, absolute, barometer, within
from fleet.science.inflation import gauge_after_kpa, start_gauge_kpa
from fleet.science.units import FAHRENHEIT_PER_C, KPA_PER_PSI

Array = NDArray[np.float64]

RULE_PSI_PER_F: Final = 0.1
_ON_STEP: Final = 1e-9


@dataclass(frozen=True)
class StartPressure:
    """Start pressures, one entry per line; the interval is of the pressure needed, before any limit.

    Attributes
    ----------
    start_kpa, low_kpa, high_kpa : true pressure needed, exact, and its interval
    shown_kpa : within the limits and on the gauge's step, as the rider's own gauge reads it
    limit : -1 where the lower limit was hit, 1 the upper, 0 none
    expected_gas_c, gas_low_c, gas_high_c : gas temperature at the end of the slot and its interval
    expected_hot_kpa, hot_low_kpa, hot_high_kpa : true hot pressure that the shown one leads to, and its interval
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
    hot_low_kpa: Array
    hot_high_kpa: Array


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
    air_sd_c: ArrayLike = 0.0,
    tire_sd_c: ArrayLike = 0.0,
    setting_sd_kpa: ArrayLike = 0.0,
) -> StartPressure:
    """Return the pressures to set at the tire's temperature now that reach the target at the end of the slot.

    The gas relaxes from the temperature the tire leaves the pits with toward air plus rise. The intervals carry the
    rise's quantiles through this and the gas law, and join what else is uncertain in quadrature: for the pressure
    needed the target and the tire's temperature, for the hot one the tire's temperature and the setting. A limit
    goes before the target, and the step never leads out of the limits: where no step lies within them the exact
    pressure is shown.

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
        Probability of the intervals, between 0 and 1.
    air_sd_c, tire_sd_c, setting_sd_kpa
        Standard deviations of the air at the end of the slot, of the tire's temperature while it is set, and of the
        pressure really set about the one wanted, at least 0.

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
    normal = special.ndtri(tail)
    by_air = normal * within("air_sd_c", air_sd_c, at_least=0.0)
    reach = np.hypot(_quantile(tail, df) * within("rise_sd_c", rise_sd_c, at_least=0.0), by_air)
    around = barometer("barometer_kpa", barometer_kpa)
    later = around
    if barometer_when_hot_kpa is not None:
        later = barometer("barometer_when_hot_kpa", barometer_when_hot_kpa)
    target = within("target_kpa", target_kpa)
    absolute("target_kpa", target, later)
    softer = target - normal * within("target_sd_kpa", target_sd_kpa, at_least=0.0)
    set_c = within("tire_c", tire_c, above=ABSOLUTE_ZERO_C)
    warmer_c = set_c + normal * within("tire_sd_c", tire_sd_c, at_least=0.0)
    more = normal * within("setting_sd_kpa", setting_sd_kpa, at_least=0.0)
    slot = _Slot(
        barometer_kpa=around,
        barometer_when_hot_kpa=later,
        minutes=within("minutes_on_track", minutes_on_track, at_least=0.0),
        time_constant_min=time_constant_min,
        warmers_c=within("warmers_c", np.nan if warmers_c is None else warmers_c, above=ABSOLUTE_ZERO_C),
    )
    air, rise = within("air_c", air_c, above=ABSOLUTE_ZERO_C), within("rise_mean_c", rise_mean_c)
    settled = within("air_c plus rise_mean_c", air + rise, above=ABSOLUTE_ZERO_C)
    gas, cold, hot = (slot.gas_c(set_c, toward) for toward in (settled, settled - reach, settled + reach))
    gas_if_warmer = slot.gas_c(warmer_c, settled)

    start = slot.needed_kpa(target, gas, set_c)
    by_tire, by_target = slot.needed_kpa(target, gas_if_warmer, warmer_c), slot.needed_kpa(softer, gas, set_c)
    low = start - _joined(start, slot.needed_kpa(target, hot, set_c), by_tire, by_target)
    high = start + _joined(start, slot.needed_kpa(target, cold, set_c), by_tire, by_target)

    shown = shown_kpa(start, lower_kpa=lower, upper_kpa=upper, step_kpa=step, gauge_offset_kpa=offset)
    true = shown - offset
    reached = slot.reached_kpa(true, gas, set_c)
    by_tire, by_setting = (
        slot.reached_kpa(true, gas_if_warmer, warmer_c),
        slot.reached_kpa(true + more, gas, set_c),
    )
    hot_low = reached - _joined(reached, slot.reached_kpa(true, cold, set_c), by_tire, by_setting)
    hot_high = reached + _joined(reached, slot.reached_kpa(true, hot, set_c), by_tire, by_setting)
    limit = (start > upper).astype(np.int64) - (start < lower).astype(np.int64)
    return StartPressure(start, low, high, shown, limit, gas, cold, hot, reached, hot_low, hot_high)


def shown_kpa(
    start_kpa: ArrayLike,
    *,
    lower_kpa: ArrayLike,
    upper_kpa: ArrayLike,
    step_kpa: ArrayLike,
    gauge_offset_kpa: ArrayLike = 0.0,
) -> Array:
    """Return a start pressure within its limits and on the step of a gauge, as that gauge reads it.

    A limit goes before the start pressure, and the step never leads out of the limits: where no step lies within them
    the exact pressure is shown.

    Parameters
    ----------
    start_kpa
        True pressure needed.
    lower_kpa, upper_kpa
        Limits of the spec, true pressures.
    step_kpa, gauge_offset_kpa
        Step of the gauge, above 0, and how much it shows too high.

    Raises
    ------
    ValueError
        If limits cross, the step is not above 0, or a figure is infinite.
    """
    lower, upper = within("lower_kpa", lower_kpa), within("upper_kpa", upper_kpa)
    within("upper_kpa less lower_kpa", upper - lower, at_least=0.0)
    step, offset = within("step_kpa", step_kpa, above=0.0), within("gauge_offset_kpa", gauge_offset_kpa)
    start = within("start_kpa", start_kpa)
    return _on_step(np.clip(start, lower, upper) + offset, lower + offset, upper + offset, step)


@dataclass(frozen=True)
class _Slot:
    """What leads from a pressure set to a pressure when hot, and back."""

    barometer_kpa: ArrayLike
    barometer_when_hot_kpa: ArrayLike
    minutes: ArrayLike
    time_constant_min: ArrayLike
    warmers_c: ArrayLike

    def gas_c(self, tire_c: Array, settled_c: Array) -> Array:
        """Return the gas temperature at the end; a tire leaves the pits with that of its warmers, if it was on any."""
        begun = np.where(np.isnan(self.warmers_c), tire_c, self.warmers_c)
        return thermal.relax_c(begun, settled_c, self.minutes, self.time_constant_min)

    def needed_kpa(self, hot_kpa: Array, gas_c: Array, tire_c: Array) -> Array:
        """Return the pressure to set."""
        return start_gauge_kpa(hot_kpa, gas_c, tire_c, self.barometer_kpa, self.barometer_when_hot_kpa)

    def reached_kpa(self, set_kpa: Array, gas_c: Array, tire_c: Array) -> Array:
        """Return the hot pressure."""
        return gauge_after_kpa(set_kpa, tire_c, gas_c, self.barometer_kpa, self.barometer_when_hot_kpa)


def _joined(middle: Array, *others: Array) -> Array:
    """Return how far independent causes together reach from the middle, each given by where it alone would lead."""
    return np.asarray(np.sqrt(sum(np.square(other - middle) for other in others)), dtype=np.float64)


def _quantile(prob: float, df: ArrayLike) -> Array:
    freedom = np.asarray(df, dtype=np.float64)
    if np.any(freedom <= 0.0):
        raise ValueError(f"df must be above 0, not {float(freedom.min()):g}")
    return np.asarray(special.stdtrit(freedom, prob), dtype=np.float64)


def _on_step(value: Array, lower: Array, upper: Array, step: Array) -> Array:
    """Return the nearest multiple of the step within the limits, or the value where there is none."""
    lowest, highest = np.ceil(lower / step - _ON_STEP), np.floor(upper / step + _ON_STEP)
    count = np.minimum(np.maximum(np.round(value / step), lowest), highest)
    return np.where(np.isnan(step), np.nan, np.where(lowest <= highest, count * step, value))


def rule_of_thumb_kpa(hot_kpa: ArrayLike, hot_c: ArrayLike, tire_c: ArrayLike) -> Array:
    """Return the start pressure by the rule "1 psi per 10 F" (common practice, no published source).

    For comparison only: the rule is exact at 38 psi and 20 degrees C, and too strong under it.

    Parameters
    ----------
    hot_kpa
        Hot pressure wanted.
    hot_c, tire_c
        Temperatures of the gas when hot and of the tire while it is set, in degrees C.
    """
    warmer_f = (np.asarray(hot_c, dtype=np.float64) - np.asarray(tire_c, dtype=np.float64)) * FAHRENHEIT_PER_C
    return np.asarray(hot_kpa, dtype=np.float64) - RULE_PSI_PER_F * warmer_f * KPA_PER_PSI
