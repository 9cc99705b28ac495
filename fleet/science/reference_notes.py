"""Pool pressures that others reported for a tire into one hot pressure, by likeness and robustly."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

Array = NDArray[np.float64]

# Common practice, no published source: how far a note may be from today before it counts as half or less.
AIR_SCALE_C: Final = 8.0
TRACK_SCALE_C: Final = 12.0
PACE_SCALE: Final = 0.15
AGE_SCALE_DAYS: Final = 730.0
NOTE_SD_KPA: Final = 7.0
LEAST_LIKENESS: Final = 0.1
"""Summed likeness under which the notes are too unlike today to say anything."""

HUBER_K: Final = 1.5
"""Standard deviations within which a value counts in full [Huber1964]."""

MAD_TO_SD: Final = 1.482602218505602

_UNKNOWN_DISTANCE: Final = 1.0
_SPREAD_STRENGTH: Final = 2.0
_STEPS: Final = 200
_TOLERANCE: Final = 1e-12


@dataclass(frozen=True)
class PooledNotes:
    """One hot pressure from many notes, in kPa gauge, its standard deviation and the notes that counted."""

    hot_kpa: float
    sd_kpa: float
    notes_used: int


def likeness(
    *,
    air_difference_c: ArrayLike,
    track_difference_c: ArrayLike,
    pace_difference: ArrayLike,
    age_days: ArrayLike,
) -> Array:
    """Return how much each note counts, from 0 to 1, by its likeness to the day asked about.

    A product of bell curves whose scales are common practice, no published source. What a note does not tell (NaN)
    counts as one scale away.

    Parameters
    ----------
    air_difference_c, track_difference_c
        Air and track temperature of the note less those of the day.
    pace_difference
        Effort of the note less that of the rider, as a share of full pace.
    age_days
        Age of the note, at least 0.

    Raises
    ------
    ValueError
        If an age is negative.
    """
    age = within("age_days", age_days, at_least=0.0)
    distances = [
        within("air_difference_c", air_difference_c) / AIR_SCALE_C,
        within("track_difference_c", track_difference_c) / TRACK_SCALE_C,
        within("pace_difference", pace_difference) / PACE_SCALE,
        age / AGE_SCALE_DAYS,
    ]
    filled = [np.where(np.isnan(distance), _UNKNOWN_DISTANCE, distance) for distance in distances]
    return np.asarray(np.exp(-0.5 * sum(np.square(distance) for distance in filled)), dtype=np.float64)


def weighted_median(values: ArrayLike, weights: ArrayLike) -> float:
    """Return the value with half of the weight on either side; the mean of two where they share it evenly.

    Parameters
    ----------
    values, weights : array_like, shape (n,)
        At least one value with a weight above 0; a weight of 3 is the value three times.

    Raises
    ------
    ValueError
        If there is no value, a weight is negative, or all are 0.
    """
    given, heft = _weighed(values, weights)
    order = np.argsort(given, kind="stable")
    ordered, share = given[order], np.cumsum(heft[order])
    share = share / share[-1]
    low = int(np.searchsorted(share, 0.5 - _TOLERANCE))
    even = abs(share[low] - 0.5) <= _TOLERANCE and low + 1 < len(ordered)
    return float(0.5 * (ordered[low] + ordered[low + 1]) if even else ordered[low])


def huber_location(values: ArrayLike, weights: ArrayLike, scale: float, k: float = HUBER_K) -> float:
    """Return the weighted location that is the mean in the middle and the median in the tails [Huber1964].

    Parameters
    ----------
    values, weights : array_like, shape (n,)
        At least one value; a weight of 3 is the value three times.
    scale : float
        Standard deviation of an honest value, in the unit of the values, above 0.
    k : float
        Scales from the location beyond which a value pulls no harder.

    Raises
    ------
    ValueError
        If there is no value, a weight is negative or all are 0, or the scale or ``k`` is not above 0.
    """
    given, heft = _weighed(values, weights)
    reach = float(within("k", k, above=0.0) * within("scale", scale, above=0.0))
    location = weighted_median(given, heft)
    for _ in range(_STEPS):
        pull = heft * reach / np.maximum(np.abs(given - location), reach)
        moved = float((pull * given).sum() / pull.sum())
        if abs(moved - location) <= _TOLERANCE * reach:
            return moved
        location = moved
    return location


def _weighed(values: ArrayLike, weights: ArrayLike) -> tuple[Array, Array]:
    given, heft = within("values", values), within("weights", weights, at_least=0.0)
    if given.size == 0 or not heft.sum() > 0.0:
        raise ValueError("values must hold at least one with a weight above 0, not none")
    return given, heft


def pool_reference_notes(hot_kpa: ArrayLike, likeness_of_each: ArrayLike) -> PooledNotes:
    """Return one hot pressure for a tire from all notes about it.

    Huber's location weighted by likeness. The scale is the spread seen (median absolute deviation), with two notes'
    worth of the usual spread mixed in; a note half alike is half a note in the standard deviation too.

    Parameters
    ----------
    hot_kpa : array_like, shape (n,)
        True gauge pressure of each note when hot; NaN is passed over.
    likeness_of_each : array_like, shape (n,)
        From ``likeness``.

    Returns
    -------
    PooledNotes
        NaN with no note used where the notes are none or too unlike the day asked about.

    Raises
    ------
    ValueError
        If a pressure is not above 0 or a likeness outside 0 to 1.
    """
    values, heft = np.broadcast_arrays(
        within("hot_kpa", hot_kpa, above=0.0),
        within("likeness_of_each", likeness_of_each, at_least=0.0, at_most=1.0),
    )
    usable = ~(np.isnan(values) | np.isnan(heft)) & (heft > 0.0)
    values, heft = values[usable], heft[usable]
    total = float(heft.sum())
    if total < LEAST_LIKENESS:
        return PooledNotes(np.nan, np.nan, 0)
    spread = MAD_TO_SD * weighted_median(np.abs(values - weighted_median(values, heft)), heft)
    square = (_SPREAD_STRENGTH * NOTE_SD_KPA**2 + total * spread**2) / (_SPREAD_STRENGTH + total)
    location = huber_location(values, heft, float(np.sqrt(square)))
    return PooledNotes(location, float(np.sqrt(square / total)), int(values.size))
