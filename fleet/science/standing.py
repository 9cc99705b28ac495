"""Say how warm a tire still is from its last stint when its pressure is set and nobody took its temperature."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science import practice, thermal
from fleet.science.bounds import ABSOLUTE_ZERO_C, within

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """The temperature of standing tires and its standard deviation, in degrees C."""

    tire_c: Array
    sd_c: Array


def standing_tire(
    *,
    air_c: ArrayLike,
    rise_c: ArrayLike,
    minutes_on_track: ArrayLike,
    minutes_since: ArrayLike,
    rise_sd_c: ArrayLike = practice.RISE_SD_C,
    time_constant_min: ArrayLike = thermal.ON_TRACK_MIN,
    cooling_constant_min: ArrayLike = thermal.COOLING_MIN,
    constant_log_sd: ArrayLike = practice.TIME_CONSTANT_LOG_SD,
    tire_sd_c: ArrayLike = practice.TIRE_TEMPERATURE_SD_C,
) -> Standing:
    """Return the temperature of tires that heated up from the air in a stint and then stood, one entry per tire.

    The spread carries the rise's and the cooling constant's to first order, so that the warmer a tire must still have
    been, the less its pressure says.

    Parameters
    ----------
    air_c
        Air temperature, the same during the stint and since.
    rise_c, rise_sd_c
        Where over the air the stint was heading, above 0, and the spread of that.
    minutes_on_track, minutes_since
        Length of the last stint and time since its end, at least 0; NaN where there was none: the tire has air
        temperature.
    time_constant_min, cooling_constant_min, constant_log_sd
        How fast it heats up and cools, above 0, and the spread of the logarithm of the second.
    tire_sd_c
        Spread that is left where nothing is carried over.

    Raises
    ------
    ValueError
        If a time or a spread is negative, a time constant or a rise is not above 0, or a temperature is impossible.
    """
    air, rise = within("air_c", air_c, above=ABSOLUTE_ZERO_C), within("rise_c", rise_c, above=0.0)
    run = within("minutes_on_track", minutes_on_track, at_least=0.0)
    stood = within("minutes_since", minutes_since, at_least=0.0)
    cooling = within("cooling_constant_min", cooling_constant_min, above=0.0)
    hot = thermal.relax_c(air, air + rise, run, time_constant_min)
    over = thermal.relax_c(hot, air, stood, cooling) - air
    share = np.hypot(
        within("rise_sd_c", rise_sd_c, at_least=0.0) / rise,
        within("constant_log_sd", constant_log_sd, at_least=0.0) * stood / cooling,
    )
    never_ran = np.isnan(run) | np.isnan(stood)
    over, spread = np.where(never_ran, 0.0, over), np.where(never_ran, 0.0, over * share)
    return Standing(air + over, np.hypot(within("tire_sd_c", tire_sd_c, at_least=0.0), spread))
