"""Hold how long sets ran: worn out, or only known to have lasted so far, and since when they were watched."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from fleet.science.bounds import within

Array = NDArray[np.float64]

LEVEL: Final = 0.95
"""Probability with which an interval holds the truth, unless asked otherwise."""


@dataclass(frozen=True)
class Interval:
    """A value with the ends of its interval; NaN: not known, infinite: not reached by what was seen."""

    value: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Lives:
    """Sets that were watched while they ran, one entry per set: from, until, and whether worn out then."""

    since: Array
    until: Array
    is_worn: NDArray[np.bool_]

    def part(self, chosen: NDArray[np.bool_]) -> "Lives":
        """Return some of the sets."""
        return Lives(self.since[chosen], self.until[chosen], self.is_worn[chosen])

    def at_risk(self, durations: Array) -> NDArray[np.int_]:
        """Return how many sets were watched and not yet worn just before each duration."""
        begun, ended = (np.searchsorted(np.sort(ends), durations) for ends in (self.since, self.until))
        return begun - ended


def observed(durations: ArrayLike, is_worn: ArrayLike, seen_from: ArrayLike) -> Lives:
    """Return the sets that tell something, refusing what cannot be.

    A set with a NaN is left out. So is one that was not watched while it ran, such as a set sold before its first
    riding day; a set worn out without having run is refused.

    Raises
    ------
    ValueError
        If shapes differ, a flag is neither true nor false, a duration is negative, a set was first seen after its
        last duration, or a set wore out at the duration it was first seen.
    """
    until = within("durations", durations, at_least=0.0)
    worn = flags("is_worn", is_worn, until.shape)
    since = np.broadcast_to(within("seen_from", seen_from, at_least=0.0), until.shape)
    late, unrun = since > until, worn & (since == until)
    if late.any():
        raise ValueError(f"seen_from must be at most the duration {until[late][0]:g}, not {since[late][0]:g}")
    if unrun.any():
        raise ValueError(f"durations of worn sets must be above seen_from, not {until[unrun][0]:g}")
    return Lives(since, until, worn).part(since < until)


def flags(name: str, values: ArrayLike, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return one flag per set, refusing another shape and what is neither true nor false.

    Raises
    ------
    ValueError
        With the name and the offending shape or value.
    """
    given = np.asarray(values)
    if len(shape) != 1 or given.shape != shape:
        raise ValueError(
            f"{name} must have the one-dimensional shape of durations {shape}, not {given.shape}"
        )
    known = np.isin(given, (0, 1))
    if not known.all():
        raise ValueError(f"{name} must be true or false, not {given[~known][0]}")
    return given.astype(np.bool_)


def strictly_between(name: str, probabilities: ArrayLike) -> Array:
    """Return probabilities, refusing one that is not between 0 and 1; NaN passes.

    Raises
    ------
    ValueError
        With the name and the offending value.
    """
    numbers = np.asarray(probabilities, dtype=np.float64)
    outside = (numbers <= 0.0) | (numbers >= 1.0)
    if outside.any():
        raise ValueError(f"{name} must be between 0 and 1, not {numbers[outside].flat[0]:g}")
    return numbers


def normal_score(level: float) -> float:
    """Return how many standard deviations to both sides hold the level's probability."""
    return float(special.ndtri(0.5 + 0.5 * strictly_between("level", level)))
