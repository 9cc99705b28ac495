"""Conversions between the units riders read and the SI units used inside.

Inside: kPa gauge, degrees C, mm. One pound-force is 4.4482216152605 N and one inch 25.4 mm, both exact
[NIST811]; conventional millimetres of mercury give the inch of mercury.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

KPA_PER_PSI: Final = 6.894757293168
KPA_PER_BAR: Final = 100.0
KPA_PER_INHG: Final = 3.3863887
MM_PER_INCH: Final = 25.4
MM_PER_INCH_32ND: Final = MM_PER_INCH / 32
M_PER_FOOT: Final = 0.3048
FAHRENHEIT_PER_C: Final = 1.8
FAHRENHEIT_AT_FREEZING: Final = 32.0


def kpa_from_psi(pressure_psi: ArrayLike) -> NDArray[np.float64]:
    """Return kPa from pounds per square inch."""
    return np.asarray(pressure_psi, dtype=np.float64) * KPA_PER_PSI


def psi_from_kpa(pressure_kpa: ArrayLike) -> NDArray[np.float64]:
    """Return pounds per square inch from kPa."""
    return np.asarray(pressure_kpa, dtype=np.float64) / KPA_PER_PSI


def kpa_from_bar(pressure_bar: ArrayLike) -> NDArray[np.float64]:
    """Return kPa from bar."""
    return np.asarray(pressure_bar, dtype=np.float64) * KPA_PER_BAR


def bar_from_kpa(pressure_kpa: ArrayLike) -> NDArray[np.float64]:
    """Return bar from kPa."""
    return np.asarray(pressure_kpa, dtype=np.float64) / KPA_PER_BAR


def kpa_from_inhg(pressure_inhg: ArrayLike) -> NDArray[np.float64]:
    """Return kPa from inches of mercury at 0 degrees C, the unit of US altimeter settings."""
    return np.asarray(pressure_inhg, dtype=np.float64) * KPA_PER_INHG


def c_from_fahrenheit(temperature_f: ArrayLike) -> NDArray[np.float64]:
    """Return degrees C from degrees Fahrenheit."""
    return (np.asarray(temperature_f, dtype=np.float64) - FAHRENHEIT_AT_FREEZING) / FAHRENHEIT_PER_C


def fahrenheit_from_c(temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Return degrees Fahrenheit from degrees C."""
    return np.asarray(temperature_c, dtype=np.float64) * FAHRENHEIT_PER_C + FAHRENHEIT_AT_FREEZING


def mm_from_inch32(depth_inch32: ArrayLike) -> NDArray[np.float64]:
    """Return mm from thirty-seconds of an inch, the unit of US tread depth gauges."""
    return np.asarray(depth_inch32, dtype=np.float64) * MM_PER_INCH_32ND


def inch32_from_mm(depth_mm: ArrayLike) -> NDArray[np.float64]:
    """Return thirty-seconds of an inch from mm."""
    return np.asarray(depth_mm, dtype=np.float64) / MM_PER_INCH_32ND


def m_from_ft(altitude_ft: ArrayLike) -> NDArray[np.float64]:
    """Return meters from feet, the unit of US field elevations."""
    return np.asarray(altitude_ft, dtype=np.float64) * M_PER_FOOT
