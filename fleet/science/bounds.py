"""Refusals shared by the computations: a value that cannot exist is named with its limit."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

ABSOLUTE_ZERO_C = -273.15


def within(
    name: str,
    values: ArrayLike,
    *,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
) -> NDArray[np.float64]:
    """Return the values as floats, refusing the first one outside the limits.

    NaN passes: it marks a missing sample, not an impossible one.

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
    """Return a temperature in kelvin from degrees C, refusing absolute zero and below.

    Raises
    ------
    ValueError
        If a temperature is not above -273.15 degrees C.
    """
    celsius = within(name, temperature_c, above=ABSOLUTE_ZERO_C)
    return np.asarray(celsius - ABSOLUTE_ZERO_C)[()]


def _refuse_where(bad: NDArray[np.bool_], name: str, numbers: NDArray[np.float64], limit: str) -> None:
    if np.any(bad):
        value = float(numbers[bad].flat[0])
        raise ValueError(f"{name} must be {limit}, not {value:g}")
