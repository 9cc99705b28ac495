"""Describe one run of laps: which count, where they lie, how far they spread and drift."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.ranks import LEVEL, Estimate, theil_sen
from fleet.science.reference_notes import MAD_TO_SD

Array = NDArray[np.float64]

SLOW_SDS: Final = 3.5
"""Robust standard deviations over the median beyond which a lap is set aside [Iglewicz1993]."""

SLOW_SHARE: Final = 0.015
"""Share of the median a lap must be slower by in any case, so that a very even run keeps its laps (common practice,
no published source)."""

LAPS_OF_A_RUN: Final = 6
"""Six or seven laps at 80 to 90 % effort make a consistency run (common practice, no published source)."""

_MAD_OF_FEW: Final = (1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107)
"""Correction for 2 to 9 values, beyond n / (n - 0.8) [Croux1992], from memory; a test simulates them."""


@dataclass(frozen=True)
class Doubt:
    """A stable code and a sentence for a reason why the laps cannot decide."""

    code: str
    text: str


@dataclass(frozen=True)
class SetAside:
    """A lap that does not count: its number from 1, its time, and why (``out lap``, ``in lap`` or ``slow``)."""

    lap: int
    time_s: float
    reason: str


@dataclass(frozen=True)
class Consistency:
    """What one run of laps tells.

    Attributes
    ----------
    lap, time_s : numbers (from 1) and times of the laps that count, in order
    ridden : laps of the run, those set aside or not timed included
    set_aside : the laps that do not count, in order
    median_s, spread_s, range_s : middle, robust standard deviation, slowest less fastest; NaN where too few
    drift_s : seconds per lap with its interval; above 0 the laps get slower
    doubts : why this is less than it seems
    """

    lap: NDArray[np.int64]
    time_s: Array
    ridden: int
    set_aside: tuple[SetAside, ...]
    median_s: float
    spread_s: float
    range_s: float
    drift_s: Estimate
    doubts: tuple[Doubt, ...]

    @property
    def count(self) -> int:
        """Return how many laps count."""
        return len(self.time_s)


def consistency(
    lap_times_s: ArrayLike,
    *,
    out_lap: bool = False,
    in_lap: bool = False,
    level: float = LEVEL,
    slow_sds: float = SLOW_SDS,
    slow_share: float = SLOW_SHARE,
) -> Consistency:
    """Return middle, spread and drift of a run after setting aside the laps that do not tell the pace.

    The first and last lap go where they are said to be out and in laps. Of the rest a lap goes that is slower than
    the median by more than ``slow_sds`` robust standard deviations and by more than ``slow_share`` of the median:
    traffic, a flag, an out or in lap nobody marked. Fast laps always stay. With most laps in traffic the median is in
    traffic too, and the rule finds nothing.

    Parameters
    ----------
    lap_times_s : array_like, shape (laps,)
        In the order ridden, above 0; NaN for a lap that was not timed.
    out_lap, in_lap : bool
        Whether the first and the last lap began and ended in the pits.
    level : float
        Probability of the drift's interval, at least 0.5 and under 1.
    slow_sds, slow_share : float
        Both limits of the rule, not negative.

    Raises
    ------
    ValueError
        If the times are not one row, one is not above 0, a limit is negative, or the level outside its range.
    """
    times = lap_times("lap_times_s", lap_times_s)
    reasons = np.full(times.shape, "", dtype="<U7")
    reasons[:1] = "out lap" if out_lap else ""
    reasons[-1:] = "in lap" if in_lap else reasons[-1:]
    reasons[_slow(times, reasons == "", slow_sds, slow_share)] = "slow"
    timed = ~np.isnan(times)
    kept = timed & (reasons == "")
    lap, own = np.nonzero(kept)[0] + 1, times[kept]
    away = tuple(
        SetAside(int(place) + 1, float(times[place]), str(reasons[place]))
        for place in np.nonzero(timed & (reasons != ""))[0]
    )
    drift = theil_sen(lap, own, level)
    return Consistency(
        lap=lap,
        time_s=own,
        ridden=len(times),
        set_aside=away,
        median_s=float(np.median(own)) if own.size else np.nan,
        spread_s=robust_sd(own),
        range_s=float(np.ptp(own)) if own.size else np.nan,
        drift_s=drift,
        doubts=_doubts(len(own), away),
    )


def lap_times(name: str, times_s: ArrayLike) -> Array:
    """Return the times of one run of laps, refusing by ``name`` what no run has.

    Raises
    ------
    ValueError
        If the times are not one row or one is not above 0.
    """
    times = within(name, times_s, above=0.0)
    if times.ndim != 1:
        raise ValueError(f"{name} must have one dimension, not {times.ndim}")
    return times


def robust_sd(values: ArrayLike) -> float:
    """Return the standard deviation told by the median distance from the median, right on average for few values too.

    NaN is left out; NaN for fewer than two values. A normal source is assumed [Croux1992].

    Raises
    ------
    ValueError
        If a value is infinite.
    """
    known = np.ravel(within("values", values))
    known = known[~np.isnan(known)]
    count = known.size
    if count <= 1:
        return np.nan
    few = _MAD_OF_FEW[count - 2] if count < len(_MAD_OF_FEW) + 2 else count / (count - 0.8)
    return float(few * MAD_TO_SD * np.median(np.abs(known - np.median(known))))


def _slow(times: Array, open_to_rule: NDArray[np.bool_], sds: float, share: float) -> NDArray[np.bool_]:
    """Return which laps are slower than the rule allows; NaN never is."""
    most_sds = float(within("slow_sds", sds, at_least=0.0))
    most_share = float(within("slow_share", share, at_least=0.0))
    judged = times[open_to_rule & ~np.isnan(times)]
    if judged.size == 0:
        return np.zeros(times.shape, dtype=np.bool_)
    middle = float(np.median(judged))
    mad = float(np.median(np.abs(judged - middle)))
    limit = middle + max(most_sds * MAD_TO_SD * mad, most_share * middle)
    return np.asarray(open_to_rule & (times > limit))


def _doubts(count: int, away: tuple[SetAside, ...]) -> tuple[Doubt, ...]:
    found = []
    if count < LAPS_OF_A_RUN:
        found.append(
            Doubt(
                "too_few_laps",
                f"{count} laps count. Six or seven laps at 80 to 90 % effort make a run that can be judged "
                "(common practice, no published source).",
            )
        )
    slow = sum(lap.reason == "slow" for lap in away)
    if slow > 0 and 2 * slow >= count:
        found.append(
            Doubt(
                "much_traffic",
                f"{slow} slow laps were set aside beside {count} that count: was the track free?",
            )
        )
    return tuple(found)
