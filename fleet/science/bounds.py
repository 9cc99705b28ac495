"""Refusals shared by the computations: a value that cannot exist is named with its limit."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

ABSOLUTE_ZERO_C = -273.15
LOWEST_BAROMETER_KPA = 30.0
HIGHEST_BAROMETER_KPA = 110.0


def within(
    name: str,
    values: ArrayLike,
    *,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
) -> NDArray[np.float64]:
    """Return the values as floats, refusing the first one outside the limits.

    NaN passes: it marks a missing sample, not an impossible one. Infinity never does.

    Parameters
    ----------
    name : str
        What the caller calls the values, for the refusal.
    values : array_like
        Any shape; it is kept.
    above, at_least, at_most : float, optional
        Limits, the first one excluded, the others included.

    Raises
    ------
    ValueError
        With the name, the limit and the offending value.
    """
    numbers = np.asarray(values, dtype=np.float64)
    _refuse_where(np.isinf(numbers), name, numbers, "finite")
    if above is not None:
        _refuse_where(numbers <= above, name, numbers, f"above {above:g}")
    if at_least is not None:
        _refuse_where(numbers < at_least, name, numbers, f"at least {at_least:g}")
    if at_most is not None:
        _refuse_where(numbers > at_most, name, numbers, f"at most {at_most:g}")
    return numbers


def kelvin(name: str, temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Return a temperature in kelvin from degrees C, refusing absolute zero and below by ``name``.

    Raises
    ------
    ValueError
        If a temperature is not above -273.15 degrees C.
    """
    celsius = within(name, temperature_c, above=ABSOLUTE_ZERO_C)
    return np.asarray(celsius - ABSOLUTE_ZERO_C)[()]


def barometer(name: str, barometer_kpa: ArrayLike) -> NDArray[np.float64]:
    """Return a pressure of the air around in kPa, refusing by ``name`` what no place to ride has.

    Raises
    ------
    ValueError
        If a pressure is outside 30 to 110 kPa.
    """
    return within(name, barometer_kpa, at_least=LOWEST_BAROMETER_KPA, at_most=HIGHEST_BAROMETER_KPA)


def absolute(name: str, gauge_kpa: ArrayLike, around_kpa: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return an absolute pressure in kPa from a gauge pressure, refusing a vacuum by ``name``.

    Parameters
    ----------
    name : str
        What the caller calls the gauge pressure, for the refusal.
    gauge_kpa, around_kpa : array_like
        Pressure over that of the air around, and that one, as from ``barometer``.

    Raises
    ------
    ValueError
        If gauge pressure and pressure around together are not above 0.
    """
    return within(f"{name} plus barometer", within(name, gauge_kpa) + around_kpa, above=0.0)


def _refuse_where(bad: NDArray[np.bool_], name: str, numbers: NDArray[np.float64], limit: str) -> None:
    if np.any(bad):
        value = float(numbers[bad].flat[0])
        raise ValueError(f"{name} must be {limit}, not {value:g}")
