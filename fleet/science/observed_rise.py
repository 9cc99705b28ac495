"""Read off pressures how far over the air the gas in a tire settles on track, and how sure that is."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science import practice as common
from fleet.science import thermal
from fleet.science.bounds import ABSOLUTE_ZERO_C, absolute, barometer, kelvin, within

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ObservedRise:
    """Settled rises over the air read off hot pressures, with the standard deviation of each, in degrees C.

    Also how far over the air each tire left the pits, and how many time constants it was on track and stood until
    it was read: from stints short and long, readings early and late, the constants themselves are learned.
    """

    rise_c: Array
    noise_sd_c: Array
    begun_over_air_c: Array
    constants_on_track: Array
    constants_standing: Array

    def by_log_constants(self, usual_rise_c: ArrayLike) -> Array:
        """Return by how many degrees C each rise would be another if the logarithm of a time constant were one more.

        Shape (rows, 2): the constant on track, the one for cooling. Taken at the usual rise, not at the one observed,
        whose noise would otherwise pass for an effect.
        """
        usual = np.asarray(usual_rise_c, dtype=np.float64)
        left = np.exp(-self.constants_on_track)
        pit_in = self.begun_over_air_c * left + usual * (1.0 - left)
        by_on_track = self.constants_on_track * left / (1.0 - left) * (usual - self.begun_over_air_c)
        by_cooling = -self.constants_standing / (1.0 - left) * pit_in
        return np.stack(np.broadcast_arrays(by_on_track, by_cooling), axis=-1)


def settled_rise_c(
    *,
    start_kpa: ArrayLike,
    tire_c: ArrayLike,
    hot_kpa: ArrayLike,
    minutes_since_pit_in: ArrayLike,
    minutes_on_track: ArrayLike,
    barometer_kpa: ArrayLike,
    air_c: ArrayLike,
    barometer_when_hot_kpa: ArrayLike | None = None,
    warmers_c: ArrayLike | None = None,
    time_constant_min: ArrayLike = thermal.ON_TRACK_MIN,
    cooling_constant_min: ArrayLike = thermal.COOLING_MIN,
    gauge_sd_kpa: ArrayLike = common.PRESSURE_REPEAT_SD_KPA,
    tire_sd_c: ArrayLike = common.TIRE_TEMPERATURE_SD_C,
    air_sd_c: ArrayLike = common.AIR_SD_C,
    constant_log_sd: ArrayLike = common.STINT_CONSTANT_LOG_SD,
) -> ObservedRise:
    """Return what each stint's pressures say about the settled rise, one row per stint.

    The hot pressure gives the gas temperature, that is taken back to the pit entry, and that extended to where the
    stint was heading. The noise carries the gauge, the tire's temperature at setting and the two time constants
    through these steps to first order, so a late reading or a short stint weighs little by itself.

    Parameters
    ----------
    start_kpa, tire_c
        True gauge pressure set, and the tire's temperature while it was.
    hot_kpa, minutes_since_pit_in
        True gauge pressure after the stint, and how long after the pit entry it was read.
    minutes_on_track
        From leaving the pits to the pit entry, above 0.
    barometer_kpa, barometer_when_hot_kpa
        Pressure around the tire at the two readings; the same if the second is left out.
    air_c
        Air temperature during the stint.
    warmers_c
        Temperature the tire left the pits with; NaN, or left out, is ``tire_c``.
    time_constant_min, cooling_constant_min
        How fast the gas follows on track and cools in the paddock, above 0.
    gauge_sd_kpa, tire_sd_c, air_sd_c, constant_log_sd
        Standard deviations of one reading by that gauge, of the tire's temperature when it was set, of the air about
        the one observed, and of the logarithm of the two constants from stint to stint; at least 0.

    Raises
    ------
    ValueError
        If a pressure, temperature, barometer, time or time constant is impossible; see ``inflation``, ``thermal``.
    """
    air, set_c = (
        within("air_c", air_c, above=ABSOLUTE_ZERO_C),
        within("tire_c", tire_c, above=ABSOLUTE_ZERO_C),
    )
    around = barometer("barometer_kpa", barometer_kpa)
    later = around
    if barometer_when_hot_kpa is not None:
        later = barometer("barometer_when_hot_kpa", barometer_when_hot_kpa)
    start, hot = absolute("start_kpa", start_kpa, around), absolute("hot_kpa", hot_kpa, later)
    begun = set_c
    if warmers_c is not None:
        begun = np.where(np.isnan(warmers_c), set_c, within("warmers_c", warmers_c, above=ABSOLUTE_ZERO_C))
    standing = within("minutes_since_pit_in", minutes_since_pit_in, at_least=0.0)
    cooled = standing / within("cooling_constant_min", cooling_constant_min, above=0.0)
    run = within("minutes_on_track", minutes_on_track, above=0.0) / within(
        "time_constant_min", time_constant_min, above=0.0
    )
    hot_k = kelvin("tire_c", set_c) * hot / start
    at_pit_in = thermal.at_pit_in_c(hot_k + ABSOLUTE_ZERO_C, air, standing, cooling_constant_min)
    settled = thermal.settled_c(begun, at_pit_in, minutes_on_track, time_constant_min)

    gauge, set_sd = (
        within(name, sd, at_least=0.0)
        for name, sd in (("gauge_sd_kpa", gauge_sd_kpa), ("tire_sd_c", tire_sd_c))
    )
    extend, growth = -1.0 / np.expm1(-run), np.exp(cooled)
    by_gauge = gauge * extend * growth * hot_k * np.hypot(1.0 / start, 1.0 / hot)
    on_warmers = np.zeros(()) if warmers_c is None else ~np.isnan(warmers_c)
    by_tire = set_sd * (
        extend * growth * hot_k / kelvin("tire_c", set_c) + np.where(on_warmers, 0.0, 1.0 - extend)
    )
    by_air = within("air_sd_c", air_sd_c, at_least=0.0) * (1.0 + extend * (growth - 1.0))
    by_cooling = extend * cooled * (at_pit_in - air)
    by_on_track = run * np.exp(-run) * extend**2 * (at_pit_in - begun)
    log_sd = within("constant_log_sd", constant_log_sd, at_least=0.0)
    by_constants = log_sd * np.hypot(by_cooling, by_on_track)
    noise = np.sqrt(by_gauge**2 + by_tire**2 + by_air**2 + by_constants**2)
    return ObservedRise(settled - air, noise, begun - air, run, cooled)
