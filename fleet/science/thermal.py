"""Warming and cooling of a tire, and the heat cycles it went through.

First order: the temperature closes the gap to where it is heading by the same share in every minute
(Newton's law of cooling [OpenStaxPhysics2012]). The time constants are parameters; the defaults are common
practice, no published source, and are re-estimated where timed readings allow.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import ABSOLUTE_ZERO_C, within

# Common practice, no published source.
ON_TRACK_MIN: Final = 6.0
COOLING_MIN: Final = 18.0
WARMERS_MIN: Final = 25.0

# After five time constants less than 0.7 % of the heat is left: a reading then tells nothing of the stint.
STALE_CONSTANTS: Final = 5.0


@dataclass(frozen=True)
class Segment:
    """A stretch of time in which a tire heads for one temperature: a stint, a break, time on warmers."""

    toward_c: float
    minutes: float
    time_constant_min: float


def relax_c(
    start_c: ArrayLike, toward_c: ArrayLike, minutes: ArrayLike, time_constant_min: ArrayLike
) -> NDArray[np.float64]:
    """Compute the temperature in degrees C after some minutes on the way from one temperature to another.

    ``toward + (start - toward) exp(-minutes / time constant)`` [OpenStaxPhysics2012].

    Parameters
    ----------
    start_c, toward_c
        Temperature at the beginning, and the one that is closed in on, above absolute zero.
    minutes
        Time gone by, at least 0.
    time_constant_min
        Time in which the gap shrinks to 37 %, above 0.

    Raises
    ------
    ValueError
        If minutes are negative, a time constant is not above 0, or a temperature is not above absolute zero.
    """
    start = within("start_c", start_c, above=ABSOLUTE_ZERO_C)
    toward = within("toward_c", toward_c, above=ABSOLUTE_ZERO_C)
    elapsed = within("minutes", minutes, at_least=0.0)
    return toward + (start - toward) * np.exp(-elapsed / _constant(time_constant_min))


def settled_c(
    start_c: ArrayLike, end_c: ArrayLike, minutes: ArrayLike, time_constant_min: ArrayLike
) -> NDArray[np.float64]:
    """Compute the temperature in degrees C a stint was heading for from where it began and ended.

    The inverse of ``relax_c``. An error in ``end_c`` grows by 1 / (1 - exp(-minutes / time_constant_min)): a short
    stint tells little.

    Parameters
    ----------
    start_c, end_c
        Temperatures at the beginning and at the end, above absolute zero.
    minutes, time_constant_min
        Length of the stint and how fast the tire follows, above 0.

    Raises
    ------
    ValueError
        If minutes or a time constant are not above 0, or a temperature is not above absolute zero.
    """
    start = within("start_c", start_c, above=ABSOLUTE_ZERO_C)
    end = within("end_c", end_c, above=ABSOLUTE_ZERO_C)
    elapsed = within("minutes", minutes, above=0.0)
    return start + (end - start) / -np.expm1(-elapsed / _constant(time_constant_min))


def at_pit_in_c(
    measured_c: ArrayLike,
    air_c: ArrayLike,
    minutes_since: ArrayLike,
    time_constant_min: ArrayLike = COOLING_MIN,
) -> NDArray[np.float64]:
    """Compute the temperature in degrees C at the pit entry from a reading taken some minutes later.

    The inverse of ``relax_c`` in the temperature it starts from.

    Parameters
    ----------
    measured_c, air_c
        Temperature read, and of the air the tire cools toward, above absolute zero.
    minutes_since
        From the pit entry to the reading, at least 0.
    time_constant_min
        How fast the tire cools, above 0.

    Returns
    -------
    ndarray of float64
        NaN where more than five time constants went by: nothing of the stint is left in such a reading.

    Raises
    ------
    ValueError
        If minutes are negative, a time constant is not above 0, or a temperature is not above absolute zero.
    """
    measured = within("measured_c", measured_c, above=ABSOLUTE_ZERO_C)
    air = within("air_c", air_c, above=ABSOLUTE_ZERO_C)
    constants = within("minutes_since", minutes_since, at_least=0.0) / _constant(time_constant_min)
    growth = np.exp(np.where(constants > STALE_CONSTANTS, np.nan, constants))
    return air + (measured - air) * growth


def time_constant_min(
    first_c: ArrayLike, second_c: ArrayLike, air_c: ArrayLike, minutes_between: ArrayLike
) -> NDArray[np.float64]:
    """Compute the time constant in minutes from two readings of a tire on its way to air temperature.

    ``minutes / ln((first - air) / (second - air))``, the inverse of ``relax_c`` in its time constant.

    Parameters
    ----------
    first_c, second_c
        The readings in the order taken; the second lies between the air and the first.
    air_c
        Temperature the tire is on its way to.
    minutes_between
        From the first reading to the second, above 0.

    Raises
    ------
    ValueError
        If minutes are not above 0, a temperature is not above absolute zero, or the second reading does not
        lie between the air and the first.
    """
    air = within("air_c", air_c, above=ABSOLUTE_ZERO_C)
    first = within("first_c", first_c, above=ABSOLUTE_ZERO_C) - air
    second = within("second_c", second_c, above=ABSOLUTE_ZERO_C) - air
    elapsed = within("minutes_between", minutes_between, above=0.0)
    moved = (first * second <= 0.0) | (np.abs(second) >= np.abs(first))
    if np.any(moved):
        gaps = np.broadcast_arrays(first, second, moved)
        far, near = (float(gap[gaps[2]].flat[0]) for gap in gaps[:2])
        raise ValueError(
            f"second_c must lie between air_c and first_c, not {near:g} degrees over air after {far:g}"
        )
    return elapsed / np.log(first / second)


def trace_c(start_c: float, segments: Sequence[float | Segment]) -> NDArray[np.float64]:
    """Compute the temperatures in degrees C reached at the end of each segment, one after the other.

    Each of the ``segments`` is either a ``Segment`` (relaxed toward its temperature from where the one before ended)
    or plainly the temperature that was reached, as measured.

    Raises
    ------
    ValueError
        If a temperature is not above absolute zero, minutes are negative, or a time constant is not above 0.
    """
    reached = float(within("start_c", start_c, above=ABSOLUTE_ZERO_C))
    ends: list[float] = []
    for segment in segments:
        if isinstance(segment, Segment):
            reached = float(relax_c(reached, segment.toward_c, segment.minutes, segment.time_constant_min))
        else:
            reached = float(within("segments", segment, above=ABSOLUTE_ZERO_C))
        ends.append(reached)
    return np.asarray(ends, dtype=np.float64)


def counted_cycles(
    start_c: float, segments: Sequence[float | Segment], working_c: float, cooled_c: float
) -> tuple[int, ...]:
    """Return the indices into ``segments`` of those at whose end a heat cycle was counted.

    A cycle counts when the tire reaches ``working_c`` or more after having been at or under ``cooled_c``: the
    level crossing count of [ASTM1049] with the band between the two as its filter. Short breaks and warmers
    between stints therefore save cycles. Within a segment the temperature runs one way, so its end is its
    extreme. A NaN temperature is passed over.

    Parameters
    ----------
    start_c : float
        Temperature before the first segment.
    segments : sequence of float or Segment
        Of one tire, in order of time; as for ``trace_c``.
    working_c, cooled_c : float
        Temperatures from which a tire works and up to which it counts as cooled, the second under the first.

    Raises
    ------
    ValueError
        If ``cooled_c`` is not under ``working_c``, or ``trace_c`` refuses a segment.
    """
    if not cooled_c < working_c:
        raise ValueError(f"cooled_c must be under working_c ({working_c:g}), not {cooled_c:g}")
    is_cold = start_c <= cooled_c
    counted: list[int] = []
    for index, reached_c in enumerate(trace_c(start_c, segments)):
        if is_cold and reached_c >= working_c:
            counted.append(index)
            is_cold = False
        elif reached_c <= cooled_c:
            is_cold = True
    return tuple(counted)


def heat_cycles(
    start_c: float, segments: Sequence[float | Segment], working_c: float, cooled_c: float
) -> int:
    """Count the heat cycles of one tire over its segments by the rule of ``counted_cycles``.

    From 20 through 75, 55, 80, 30, 78, 22 with working 60 and cooled 40 degrees C: 2.

    Parameters
    ----------
    start_c, segments, working_c, cooled_c
        As for ``counted_cycles``.

    Raises
    ------
    ValueError
        If ``cooled_c`` is not under ``working_c``, or ``trace_c`` refuses a segment.
    """
    return len(counted_cycles(start_c, segments, working_c, cooled_c))


def _constant(value: ArrayLike) -> NDArray[np.float64]:
    return within("time_constant_min", value, above=0.0)
