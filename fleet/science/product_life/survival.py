"""Estimate the share of sets that last beyond each duration, without assuming a form [KaplanMeier1958]."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.product_life.lives import LEVEL, Array, Interval, Lives, normal_score, observed

HALF: Final = 0.5
_ROUNDING: Final = 1e-12

Transform = Literal["log-log", "log"]


@dataclass(frozen=True)
class Survival:
    """A stepped curve: each entry holds from its duration until just before the next.

    Attributes
    ----------
    durations : distinct durations at which sets wore out, ascending, in the unit given
    at_risk : sets watched and not yet worn just before
    worn : sets worn out then
    survival : share of new sets that last longer
    se : Greenwood's standard error of that share
    low, high : its interval
    median : duration that half of the sets outlast; infinite where the curve stays above a half, NaN without sets; its
        low end is NaN where the curve's interval stays above a half too: how long the sets last, nothing has told yet
    since : shortest duration any set was watched from; of the time before, the curve knows nothing
    seen_to : duration up to which some set was always watched
    sets : number of sets behind the curve
    """

    durations: Array
    at_risk: NDArray[np.int_]
    worn: NDArray[np.int_]
    survival: Array
    se: Array
    low: Array
    high: Array
    median: Interval
    since: float
    seen_to: float
    sets: int

    def chance_beyond(self, durations: ArrayLike) -> Array:
        """Return the share of sets that last longer than each duration; NaN beyond what was seen, unless none is left.

        Where every set was first seen part-worn, the share is of those that lasted until ``since``.
        """
        asked = np.asarray(durations, dtype=np.float64)
        steps = np.concatenate(([1.0], self.survival))
        share = steps[np.searchsorted(self.durations, asked, side="right")]
        unseen = ~(asked <= self.seen_to) & (share != 0.0)
        return np.where(unseen | np.isnan(asked), np.nan, share)


def survival_curve(
    durations: ArrayLike,
    is_worn: ArrayLike,
    *,
    seen_from: ArrayLike = 0.0,
    transform: Transform = "log-log",
    level: float = LEVEL,
) -> Survival:
    """Return the product limit estimate of [KaplanMeier1958], with sets first seen part-worn counted from then on.

    The standard error is Greenwood's and the intervals are those of [Klein2003] sections 4.2 to 4.6; the median's
    is that of [Brookmeyer1982]: all durations at which a half lies within the curve's interval.

    Parameters
    ----------
    durations : array_like, shape (sets,)
        How long each set has run, at least 0, in any unit: riding days, severity km. NaN is left out.
    is_worn : array_like of bool, shape (sets,)
        Whether it was worn out then; a set still running, sold or damaged only lasted at least so long. Its
        owner's reason to stop must not foretell its wear, or the curve is wrong.
    seen_from : array_like
        How long each set had run when it was first seen; those like it that wore out before never came into
        view, so it counts from then on only.
    transform : {"log-log", "log"}
        The scale on which the share's interval is symmetric; the first stays within 0 and 1 by itself.
    level : float
        Probability of the intervals, between 0 and 1.

    Returns
    -------
    Survival
        NaN from the duration on at which no set was watched any more, though sets first seen later ran longer: what
        happened in between is unknown. Standard error and interval are NaN where no set is left.

    Raises
    ------
    ValueError
        If shapes differ, a flag is neither true nor false, a duration or ``seen_from`` is negative, a set was first
        seen after its last duration or wore out at it, the transform is another word, or the level is not
        between 0 and 1.
    """
    if transform not in {"log-log", "log"}:
        raise ValueError(f"transform must be log-log or log, not {transform}")
    return curve(observed(durations, is_worn, seen_from), transform, normal_score(level))


def curve(lives: Lives, transform: Transform, score: float) -> Survival:
    """Return the curve of sets already checked; ``score`` is the interval's half width in standard errors."""
    seen_to = _watched_to(lives)
    at, worn = np.unique(lives.until[lives.is_worn], return_counts=True)
    at_risk = lives.at_risk(at)
    kept = (at_risk - worn) / at_risk
    # The last set watched wore out, but others were first seen later: some of their like must have outlasted it.
    lost = (at > seen_to) | ((kept == 0.0) & (at < lives.until.max(initial=0.0)))
    share = np.asarray(np.cumprod(np.where(lost, np.nan, kept)), dtype=np.float64)
    alive = np.where(share > 0.0, share, np.nan)
    se = alive * np.sqrt(np.cumsum(hazard_variance(at_risk, worn)))
    low, high = _band(alive, se * score, transform)
    return Survival(
        durations=at,
        at_risk=at_risk,
        worn=worn,
        survival=share,
        se=se,
        low=low,
        high=high,
        median=_median(lives, at, share, low, high),
        since=_least(lives.since),
        seen_to=seen_to,
        sets=lives.until.size,
    )


def hazard_variance(at_risk: NDArray[np.int_], worn: NDArray[np.int_]) -> Array:
    """Return Greenwood's terms d / (n (n - d)); 0 where nothing is left, whose share has no standard error."""
    products = at_risk * (at_risk - worn)
    return np.divide(worn, products, out=np.zeros(worn.shape), where=products > 0)


def _least(durations: Array) -> float:
    return float(durations.min()) if durations.size else np.nan


def _watched_to(lives: Lives) -> float:
    """Return the first duration after which no set was watched."""
    ends = np.unique(lives.until)
    begun = np.searchsorted(np.sort(lives.since), ends, side="right")
    ended = np.searchsorted(np.sort(lives.until), ends, side="right")
    return _least(ends[begun == ended])


def _band(share: Array, reach: Array, transform: Transform) -> tuple[Array, Array]:
    """Return the ends of the share's interval, ``reach`` being its half width before the transform."""
    if transform == "log":
        width = np.exp(reach / share)
        return share / width, np.minimum(share * width, 1.0)
    width = np.exp(-reach / (share * np.log(share)))
    return share**width, share ** (1.0 / width)


def _median(lives: Lives, at: Array, share: Array, low: Array, high: Array) -> Interval:
    value, least, most = (_reaches_half(lives, at, line) for line in (share, low, high))
    return Interval(value, np.where(np.isinf(least), np.nan, least), most)


def _reaches_half(lives: Lives, at: Array, line: Array) -> Array:
    """Return the first duration at which a line is at or under a half; NaN where it is lost before or never was."""
    reached = line <= HALF + _ROUNDING
    if reached.any():
        return np.asarray(at[reached.argmax()])
    return np.asarray(np.inf if lives.until.size and not np.isnan(line).any() else np.nan)
