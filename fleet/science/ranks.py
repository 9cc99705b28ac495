"""Locations, shifts and slopes from the order of few values, with exact chances: no spread is assumed or estimated.

With few values an interval cannot reach every level. The one given is the narrowest that reaches the level asked
for, or the widest there is, and says which level it does reach.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from fleet.science.bounds import within

Array = NDArray[np.float64]

LEVEL: Final = 0.95

LOWEST_LEVEL: Final = 0.5
"""An interval that misses the truth more often than not is a slip for the chance of missing it."""

FEWEST_TIED: Final = 10
"""Points with equal places from which on the normal approximation holds about as often as it says, as a test simulates."""

MOST_EXACT: Final = 60
"""Values together up to which splits are counted; beyond, the normal distribution is as good and quick."""


@dataclass(frozen=True)
class Estimate:
    """A value with its interval, and the probability with which such an interval holds the truth; NaN: not known."""

    value: float
    low: float
    high: float
    level: float

    @property
    def is_clear(self) -> bool:
        """Return whether the interval excludes zero and reaches the usual level."""
        return bool(self.level >= LEVEL and (self.low > 0.0 or self.high < 0.0))


UNKNOWN: Final = Estimate(np.nan, np.nan, np.nan, np.nan)


def theil_sen(x: ArrayLike, y: ArrayLike, level: float = LEVEL) -> Estimate:
    """Return the median of the slopes between all pairs, with an interval from Kendall's distribution [Sen1968].

    Parameters
    ----------
    x, y : array_like, shape (n,)
        NaN pairs are left out. The interval is exact where no two ``x`` are equal, else Sen's normal approximation.
    level : float
        Probability of the interval, at least 0.5 and under 1.

    Returns
    -------
    Estimate
        NaN where fewer than two points differ in ``x``; a slope without interval where some ``x`` are equal and there
        are fewer than 10 points, for which the approximation claims a level it does not hold.

    Raises
    ------
    ValueError
        If shapes differ, a value is infinite, or the level is outside its range.
    """
    _checked(level)
    across, up = within("x", x), within("y", y)
    if across.shape != up.shape or across.ndim != 1:
        raise ValueError(f"y must have the one-dimensional shape of x {across.shape}, not {up.shape}")
    known = ~(np.isnan(across) | np.isnan(up))
    across, up = across[known], up[known]
    first, second = np.triu_indices(len(across), k=1)
    run = across[second] - across[first]
    slopes = np.sort((up[second] - up[first])[run != 0.0] / run[run != 0.0])
    if slopes.size == 0:
        return UNKNOWN
    if slopes.size < run.size:
        value, _, low, high = stats.theilslopes(up, across, level)
        is_enough = len(across) >= FEWEST_TIED
        return Estimate(float(value), *((float(low), float(high), level) if is_enough else (np.nan,) * 3))
    return _between(slopes, _inversions(len(across)), level)


def shift(a: ArrayLike, b: ArrayLike, level: float = LEVEL) -> Estimate:
    """Return by how much ``b`` lies higher: the median of all differences, by Hodges and Lehmann [Hollander2014].

    Parameters
    ----------
    a, b : array_like, shape (n,) and (m,)
        NaN is left out. Ties make the interval hold at least as often as it says.
    level : float
        Probability of the interval, at least 0.5 and under 1.

    Returns
    -------
    Estimate
        NaN where one side is empty.

    Raises
    ------
    ValueError
        If a value is infinite or the level is outside its range.
    """
    _checked(level)
    low, high = _known("a", a), _known("b", b)
    if low.size == 0 or high.size == 0:
        return UNKNOWN
    differences = np.sort((high[:, None] - low[None, :]).ravel())
    return _between(differences, _smaller_pairs(low.size, high.size), level)


def rank_sum_p(a: ArrayLike, b: ArrayLike, most_exact: int = MOST_EXACT) -> float:
    """Return the two-sided p of the rank sum test of Mann and Whitney, that ``a`` and ``b`` come from one source.

    Every split of the values given is counted, ties included [Streitberg1986]; twice the smaller tail. Above
    ``most_exact`` values the normal approximation with ties [Conover1999], section 5.1.

    Parameters
    ----------
    a, b : array_like, shape (n,) and (m,)
        NaN is left out.
    most_exact : int
        Values together up to which splits are counted.

    Returns
    -------
    float
        NaN where one side is empty.

    Raises
    ------
    ValueError
        If a value is infinite.
    """
    own, other = _known("a", a), _known("b", b)
    if own.size == 0 or other.size == 0:
        return np.nan
    ranks = stats.rankdata(np.concatenate([own, other]))
    total = float(ranks[: own.size].sum())
    if ranks.size > most_exact:
        share = own.size / ranks.size
        variance = share * (1.0 - share) * ranks.size * np.var(ranks, ddof=1)
        off = abs(total - share * ranks.sum())
        return float(2.0 * special.ndtr(-off / np.sqrt(variance))) if variance > 0.0 else 1.0
    # Mid-ranks are halves at most, so twice a rank is a whole number that can index a table.
    ways = _ways(tuple(np.sort(np.rint(2.0 * ranks)).astype(int).tolist()), own.size)
    place = round(2.0 * total)
    tail = min(ways[: place + 1].sum(), ways[place:].sum()) / ways.sum()
    return float(min(1.0, 2.0 * tail))


def _known(name: str, values: ArrayLike) -> Array:
    numbers = np.ravel(within(name, values))
    return numbers[~np.isnan(numbers)]


def _checked(level: float) -> None:
    if not LOWEST_LEVEL <= level < 1.0:
        raise ValueError(f"level must be at least {LOWEST_LEVEL:g} and below 1, not {level:g}")


def _between(ordered: Array, chances: Array, level: float) -> Estimate:
    """Return the median, between the innermost pair of ordered values that reaches the level.

    ``chances[k]`` is the probability that exactly k of the values lie on one given side of the truth.
    """
    outside = 2.0 * np.cumsum(chances)[: (len(ordered) + 1) // 2]
    allowed = 1.0 - level
    inward = max(int(np.searchsorted(outside, allowed * (1.0 + 1e-12), side="right")) - 1, 0)
    reached = max(1.0 - float(outside[inward]), 0.0)
    return Estimate(float(np.median(ordered)), float(ordered[inward]), float(ordered[-1 - inward]), reached)


@lru_cache(maxsize=256)
def _inversions(count: int) -> Array:
    """Return the chances of 0, 1, 2 ... inversions in a random order: the distribution of Kendall's S."""
    chances = np.ones(1)
    for size in range(2, count + 1):
        chances = np.convolve(chances, np.full(size, 1.0 / size))
    return chances


@lru_cache(maxsize=256)
def _smaller_pairs(own: int, other: int) -> Array:
    """Return the chances of 0, 1, 2 ... pairs in which the one is smaller: the distribution of Mann and Whitney's U."""
    total = own + other
    if total > MOST_EXACT:
        middle, sd = 0.5 * own * other, np.sqrt(own * other * (total + 1) / 12.0)
        edges = (np.arange(own * other + 2) - 0.5 - middle) / sd
        return np.diff(special.ndtr(edges))
    ways = _ways(tuple(range(2, 2 * total + 1, 2)), own)
    least = own * (own + 1) // 2
    counts = ways[::2][least : least + own * other + 1]
    return np.asarray(counts / counts.sum(), dtype=np.float64)


@lru_cache(maxsize=256)
def _ways(doubled_ranks: tuple[int, ...], size: int) -> Array:
    """Count the choices of ``size`` of the ranks by their sum, by the shift algorithm of [Streitberg1986]."""
    reach = sum(doubled_ranks[-size:])
    ways = np.zeros((size + 1, reach + 1))
    ways[0, 0] = 1.0
    for rank in doubled_ranks:
        ways[1:, rank:] += ways[:-1, : reach + 1 - rank].copy()
    return np.asarray(ways[size], dtype=np.float64)
