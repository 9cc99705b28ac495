"""Pressure of the gas shut in a tire as its temperature and the air around it change.

Constant volume: the absolute pressure scales with kelvin. The volume a tire gains by stretching and the
departure of air from an ideal gas are left out; the second is below 0.7 kPa at 250 kPa and 90 degrees C.
All pressures are gauge kPa, all temperatures degrees C of the gas.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.atmosphere import saturation_vapour_pressure_kpa
from fleet.science.bounds import ABSOLUTE_ZERO_C, absolute, barometer, kelvin, within

WATER_GAS_CONSTANT_KPA_L_PER_G_K: Final = 0.461523
HARMLESS_C: Final = 20.0


def gauge_after_kpa(
    gauge_kpa: ArrayLike,
    from_c: ArrayLike,
    to_c: ArrayLike,
    barometer_kpa: ArrayLike,
    barometer_after_kpa: ArrayLike | None = None,
    free_water_g_per_l: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Compute what a sealed tire will read after its gas went from one temperature to another, in gauge kPa.

    At constant volume the absolute pressure scales with kelvin [OpenStaxPhysics2012] chapter 13.

    Parameters
    ----------
    gauge_kpa, from_c
        Pressure and gas temperature together at one moment.
    to_c
        Gas temperature at the other moment.
    barometer_kpa, barometer_after_kpa
        Pressure around the tire at the two moments, 30 to 110; the same if the second is left out.
    free_water_g_per_l
        Liquid water inside per liter of gas. It evaporates until used up or the gas is
        saturated [Buck1996]. With none the gas is dry or merely humid, which makes no difference.

    Raises
    ------
    ValueError
        If a pressure is at or under a vacuum, a temperature at or under absolute zero, a barometer outside
        30 to 110 kPa, the water negative, or water is given beyond 100 degrees C.
    """
    absolute, after = _absolute_kpa("gauge_kpa", gauge_kpa, barometer_kpa, barometer_after_kpa)
    ratio = kelvin("to_c", to_c) / kelvin("from_c", from_c)
    gained = _vapour_gained_kpa(from_c, to_c, ratio, free_water_g_per_l)
    return absolute * ratio + gained - after


def gas_temperature_c(
    start_gauge_kpa: ArrayLike,
    start_c: ArrayLike,
    end_gauge_kpa: ArrayLike,
    barometer_kpa: ArrayLike,
    barometer_after_kpa: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Compute the gas temperature in degrees C that a second reading of a sealed tire tells.

    The inverse of ``gauge_after_kpa`` for gas without free water: kelvin scales with the absolute pressure
    [OpenStaxPhysics2012] chapter 13. A tire that lost or was given air in between yields a wrong temperature, which
    the reading alone cannot show.

    Parameters
    ----------
    start_gauge_kpa, start_c
        Pressure and gas temperature together at the first reading.
    end_gauge_kpa
        Pressure at the second reading.
    barometer_kpa, barometer_after_kpa
        Pressure around the tire at the two readings, 30 to 110; the same if the second is left out.

    Raises
    ------
    ValueError
        If a pressure is at or under a vacuum, the start at or under absolute zero, or a barometer outside
        30 to 110 kPa.
    """
    start, after = _absolute_kpa("start_gauge_kpa", start_gauge_kpa, barometer_kpa, barometer_after_kpa)
    end, _ = _absolute_kpa("end_gauge_kpa", end_gauge_kpa, after, None)
    return kelvin("start_c", start_c) * end / start + ABSOLUTE_ZERO_C


def start_gauge_kpa(
    hot_gauge_kpa: ArrayLike,
    hot_c: ArrayLike,
    start_c: ArrayLike,
    barometer_kpa: ArrayLike,
    barometer_after_kpa: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Compute the gauge pressure in kPa to set at the tire's temperature now so that it is right when hot.

    Parameters
    ----------
    hot_gauge_kpa, hot_c
        Pressure wanted and gas temperature expected when hot.
    start_c
        Temperature of the tire, not of the air, while it is set.
    barometer_kpa, barometer_after_kpa
        Pressure around the tire now and when hot, 30 to 110; the same if the second is left out.

    Raises
    ------
    ValueError
        If a pressure is at or under a vacuum, a temperature at or under absolute zero, or a barometer outside
        30 to 110 kPa.
    """
    now = barometer("barometer_kpa", barometer_kpa)
    later = now if barometer_after_kpa is None else barometer("barometer_after_kpa", barometer_after_kpa)
    hot, _ = _absolute_kpa("hot_gauge_kpa", hot_gauge_kpa, later, None)
    return hot * kelvin("start_c", start_c) / kelvin("hot_c", hot_c) - now


def slope_kpa_per_c(
    gauge_kpa: ArrayLike, temperature_c: ArrayLike, barometer_kpa: ArrayLike
) -> NDArray[np.float64]:
    """Compute how many kPa a sealed tire gains per degree C: its absolute pressure over its kelvin.

    The rule "1 psi per 10 F" (common practice, no published source) holds only where this is 1.241 kPa per
    degree, which is 38 psi at 20 degrees C and sea level.

    Parameters
    ----------
    gauge_kpa, temperature_c
        Pressure and gas temperature together at one moment.
    barometer_kpa
        Pressure around the tire, 30 to 110.

    Raises
    ------
    ValueError
        If a pressure is at or under a vacuum, a temperature at or under absolute zero, or a barometer outside
        30 to 110 kPa.
    """
    absolute, _ = _absolute_kpa("gauge_kpa", gauge_kpa, barometer_kpa, None)
    return absolute / kelvin("temperature_c", temperature_c)


def corrected_kpa(reading_kpa: ArrayLike, gauge_offset_kpa: ArrayLike) -> NDArray[np.float64]:
    """Return the true gauge pressure in kPa behind a reading of an instrument that shows offset too much."""
    return np.asarray(reading_kpa, dtype=np.float64) - within("gauge_offset_kpa", gauge_offset_kpa)


def as_read_kpa(true_kpa: ArrayLike, gauge_offset_kpa: ArrayLike) -> NDArray[np.float64]:
    """Return what an instrument that shows offset too much will read at a true gauge pressure in kPa."""
    return np.asarray(true_kpa, dtype=np.float64) + within("gauge_offset_kpa", gauge_offset_kpa)


def _absolute_kpa(
    name: str,
    gauge_kpa: ArrayLike,
    barometer_kpa: ArrayLike,
    barometer_after_kpa: ArrayLike | None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    around = barometer("barometer_kpa", barometer_kpa)
    after = around if barometer_after_kpa is None else barometer("barometer_after_kpa", barometer_after_kpa)
    return absolute(name, gauge_kpa, around), after


def _vapour_gained_kpa(
    from_c: ArrayLike, to_c: ArrayLike, ratio: NDArray[np.float64], free_water_g_per_l: ArrayLike
) -> NDArray[np.float64]:
    water = within("free_water_g_per_l", free_water_g_per_l, at_least=0.0)
    wet = water > 0.0
    # Dry rows may lie outside the vapour formula's range, so they are evaluated at a harmless temperature.
    before = np.where(wet, np.asarray(from_c, dtype=np.float64), HARMLESS_C)
    then = np.where(wet, np.asarray(to_c, dtype=np.float64), HARMLESS_C)
    room = saturation_vapour_pressure_kpa(then) - saturation_vapour_pressure_kpa(before) * ratio
    offered = water * WATER_GAS_CONSTANT_KPA_L_PER_G_K * (then - ABSOLUTE_ZERO_C)
    return np.where(wet, np.minimum(offered, room), water)
