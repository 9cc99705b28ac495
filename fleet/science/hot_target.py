"""Say which hot pressure a tire needs, from the best source there is. Gauge pressures in kPa, true."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import ABSOLUTE_ZERO_C, within
from fleet.science.inflation import gauge_after_kpa
from fleet.science.practice import REFERENCE_AIR_C

Array = NDArray[np.float64]

BASES: Final = ("maker hot", "maker cold", "maker off-warmers", "reference notes", "practice", "")
STANDARD_BAROMETER_KPA: Final = 101.325


@dataclass(frozen=True)
class Target:
    """The hot pressure a tire needs, its standard deviation in kPa, what it rests on and how many notes.

    The basis is empty, and the figures NaN, where no source says anything.
    """

    hot_kpa: Array
    sd_kpa: Array
    basis: NDArray[np.str_]
    notes_used: NDArray[np.int64]


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
    warmers_c = within("maker_off_warmers_c", maker_off_warmers_c, above=ABSOLUTE_ZERO_C)
    if np.any(~np.isnan(maker_off_warmers_kpa) & np.isnan(warmers_c)):
        raise ValueError("maker_off_warmers_c must be given with maker_off_warmers_kpa, not NaN")
    air = within("reference_air_c", reference_air_c, above=ABSOLUTE_ZERO_C)
    rise = within("practice_rise_c", practice_rise_c)
    settled = within("reference_air_c plus practice_rise_c", air + rise, above=ABSOLUTE_ZERO_C)
    rise_sd = within("practice_rise_sd_c", practice_rise_sd_c, at_least=0.0)
    cold_kpa = within("maker_cold_kpa", maker_cold_kpa, above=0.0)
    cold_c = within("maker_cold_c", maker_cold_c, above=ABSOLUTE_ZERO_C)
    warm_kpa = within("maker_off_warmers_kpa", maker_off_warmers_kpa, above=0.0)
    cold, cold_sd = _carried(cold_kpa, cold_c, settled, rise_sd, barometer_kpa)
    warm, warm_sd = _carried(warm_kpa, warmers_c, settled, rise_sd, barometer_kpa)
    sources = [
        (within("maker_hot_kpa", maker_hot_kpa, above=0.0), np.zeros(())),
        (cold, cold_sd),
        (warm, warm_sd),
        (
            within("notes_hot_kpa", notes_hot_kpa, above=0.0),
            within("notes_sd_kpa", notes_sd_kpa, at_least=0.0),
        ),
        (
            within("practice_hot_kpa", practice_hot_kpa, above=0.0),
            within("practice_sd_kpa", practice_sd_kpa, at_least=0.0),
        ),
        (np.full((), np.nan), np.full((), np.nan)),
    ]
    counts = within("notes_used", notes_used, at_least=0.0)
    every = np.broadcast_arrays(*(value for value, _ in sources), *(sd for _, sd in sources), counts)
    values, sds, notes = every[: len(BASES)], every[len(BASES) : -1], every[-1]
    known = ~np.isnan(np.stack(values))
    first = np.where(known.any(axis=0), known.argmax(axis=0), len(BASES) - 1)
    basis = np.asarray(BASES)[first]
    return Target(
        np.asarray(np.choose(first, values), dtype=np.float64),
        np.asarray(np.choose(first, sds), dtype=np.float64),
        np.asarray(basis),
        np.where(basis == "reference notes", notes, 0).astype(np.int64),
    )


def _carried(
    gauge_kpa: Array, at_c: Array, settled_c: Array, rise_sd_c: Array, barometer_kpa: ArrayLike
) -> tuple[Array, Array]:
    """Return a published pressure at the settled temperature, and the spread the rise gives it."""
    hot = gauge_after_kpa(gauge_kpa, at_c, settled_c, barometer_kpa)
    hotter = gauge_after_kpa(gauge_kpa, at_c, settled_c + rise_sd_c, barometer_kpa)
    return hot, hotter - hot
