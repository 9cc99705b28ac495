"""Compare two runs of laps: whether one tire is faster, by how much, and what else it could have been."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fleet.science.bounds import within
from fleet.science.laps.doubts import OTHER_CAUSES, TRACK_DRIFT, alike, drifts, few_laps, other_causes
from fleet.science.laps.drift import shift_beside_drift
from fleet.science.laps.runs import Consistency, Doubt, consistency, lap_times
from fleet.science.ranks import LEVEL, Estimate, rank_sum_p, shift

DIFFERENT: Final = "different"
CAUSE_OPEN: Final = "different, cause open"
NOT_TOLD_APART: Final = "not told apart"
VERDICTS: Final = (DIFFERENT, CAUSE_OPEN, NOT_TOLD_APART)


@dataclass(frozen=True)
class Difference:
    """The difference read in one way: seconds a lap that the second run is slower, and the two-sided p."""

    shift_s: Estimate
    p_value: float


@dataclass(frozen=True)
class Comparison:
    """What two runs tell about each other; shifts are second run less first, so below 0 the second is faster.

    Attributes
    ----------
    verdict : one of ``VERDICTS``
    plain : by the order of the lap times alone (Hodges and Lehmann; Mann and Whitney), no drift
    by_lap : beside a drift that begins anew in each run, as a tire going off
    by_clock : beside a drift that carries on from the first run into the second, as a track getting faster
    doubts : what the laps cannot decide
    a, b : the runs
    """

    verdict: str
    plain: Difference
    by_lap: Difference
    by_clock: Difference
    doubts: tuple[Doubt, ...]
    a: Consistency
    b: Consistency


def compare(
    a: Consistency | ArrayLike,
    b: Consistency | ArrayLike,
    *,
    level: float = LEVEL,
    laps_between: float = 0.0,
    lap_correlation: float = 0.0,
    track_c_a: float | None = None,
    track_c_b: float | None = None,
    changes: int = 1,
) -> Comparison:
    """Return whether the laps of ``b``, ridden after ``a``, differ from those of ``a``, and by how much.

    The difference is read in three ways. It is called at all only where the plain and the by-lap reading both
    exclude zero, and called ``different`` only where the by-clock reading does too and nothing else is known to have
    changed; else the laps differ and the cause is open. So equal tires are called ``different`` with a chance of at
    most 1 - level whether nothing drifts, the tires go off or the track changes steadily. That costs detection: for
    seven laps each, one run right after the other, the by-clock reading needs twice the difference.
    ``there_and_back`` is the way out.

    What stays out of reach: a tire going off while the track gets faster by as much shows no drift, and laps that
    hang together more than ``lap_correlation`` says count for more than they are. With seven laps each a correlation
    of 0.3 left untold takes the false calls at 5 % to about 11 % (simulated); told, it does not.

    Parameters
    ----------
    a, b : Consistency or array_like of lap times in s
        A run, or its lap times to set laps aside from by the rules of ``consistency``.
    level : float
        One less the chance of a false call; also the intervals' probability. At least 0.5 and under 1.
    laps_between : float
        Time from the end of ``a`` to the start of ``b`` in laps, at least 0.
    lap_correlation : float
        Correlation of neighboring laps, from 0 to under 1: seven laps are too few to estimate it.
    track_c_a, track_c_b : float, optional
        Track surface temperature during the runs.
    changes : int
        Things changed on the bike between the runs, at least 0.

    Raises
    ------
    ValueError
        If a value is outside these limits or a lap time is not above 0.
    """
    within("laps_between", laps_between, at_least=0.0)
    within("lap_correlation", lap_correlation, at_least=0.0, at_most=0.99)
    within("changes", changes, at_least=0)
    first, second = _run("a", a), _run("b", b)
    plain = Difference(shift(first.time_s, second.time_s, level), rank_sum_p(first.time_s, second.time_s))
    runs = ((first.lap, first.time_s), (second.lap, second.time_s))
    by_lap, by_clock = (
        Difference(*shift_beside_drift(runs, (0.0, begin), correlation=lap_correlation, level=level))
        for begin in (0.0, first.ridden + laps_between)
    )
    elsewhere = other_causes(track_c_a, track_c_b, changes)
    verdict = _verdict(plain, by_lap, by_clock, 1.0 - level)
    doubts = [
        *few_laps(first, second, 1.0 - level),
        *drifts(first, second),
        *alike(runs, lap_correlation),
        *([TRACK_DRIFT] if verdict == CAUSE_OPEN else []),
        *elsewhere,
    ]
    if verdict == DIFFERENT and elsewhere:
        verdict = CAUSE_OPEN
    return Comparison(verdict, plain, by_lap, by_clock, tuple(doubts), first, second)


def there_and_back(there: Comparison, back: Comparison) -> bool:
    """Return whether a change and its undoing moved the lap times there and back.

    Ride the first tire, the second, and the first again; compare the first two runs, then the last two. A track that
    only gets faster, or only slower, at whatever rate, cannot make the middle run stand out from both its neighbors.
    False where something else is known to have changed.
    """
    called = NOT_TOLD_APART not in (there.verdict, back.verdict)
    doubts = {doubt.code for doubt in (*there.doubts, *back.doubts)}
    opposite = there.plain.shift_s.value * back.plain.shift_s.value < 0.0
    return called and opposite and doubts.isdisjoint(OTHER_CAUSES)


def _run(name: str, run: Consistency | ArrayLike) -> Consistency:
    return run if isinstance(run, Consistency) else consistency(lap_times(name, run))


def _verdict(plain: Difference, by_lap: Difference, by_clock: Difference, allowed: float) -> str:
    """Return the strongest word that the readings support together; NaN supports none."""
    sign = np.sign(plain.shift_s.value)

    def supports(difference: Difference) -> bool:
        return bool(difference.p_value <= allowed and np.sign(difference.shift_s.value) == sign)

    if not (supports(plain) and supports(by_lap)):
        return NOT_TOLD_APART
    return DIFFERENT if supports(by_clock) else CAUSE_OPEN
