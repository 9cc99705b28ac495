"""Tell a shift between two runs of laps from a steady drift within them, by least squares.

The times are one level per run, plus a common slope over a clock, plus normal noise whose correlation falls off
from lap to lap by a known factor: generalised least squares, exact for any number of laps [Searle1992].
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from fleet.science.ranks import UNKNOWN, Estimate

Array = NDArray[np.float64]
Runs = tuple[tuple[NDArray[np.int64], Array], tuple[NDArray[np.int64], Array]]
"""Lap numbers and times of two runs."""

TIMER_SD_S: Final = 0.001 / np.sqrt(12.0)
"""What rounding to a thousandth of a second leaves unknown: no run of laps is known to be more even."""

_COLUMNS: Final = 3


def shift_beside_drift(
    runs: Runs,
    begins: tuple[float, float],
    *,
    correlation: float,
    level: float,
) -> tuple[Estimate, float]:
    """Return by how much the second run is slower in seconds a lap at the same clock, and the two-sided p.

    Parameters
    ----------
    runs
        For each run the lap numbers and the times in seconds.
    begins
        When each run began on the clock that the drift follows, in laps.
    correlation : float
        Of neighboring laps, from 0 to under 1; known, not estimated.
    level : float
        Probability of the interval.

    Returns
    -------
    tuple of Estimate and float
        NaN where the laps are too few to tell shift, slope and noise apart.
    """
    time = np.concatenate([run[1] for run in runs])
    second = np.repeat([0.0, 1.0], [len(run[1]) for run in runs])
    clock = np.concatenate([run[0] + begin for run, begin in zip(runs, begins, strict=True)])
    design = np.column_stack([np.ones_like(time), second, clock])
    freedom = len(time) - _COLUMNS
    if freedom < 1 or np.linalg.matrix_rank(design) < _COLUMNS:
        return UNKNOWN, np.nan
    whitened = np.linalg.solve(_root(runs, correlation), np.column_stack([design, time]))
    design, time = whitened[:, :_COLUMNS], whitened[:, _COLUMNS]
    inverse = np.linalg.inv(design.T @ design)
    found = inverse @ (design.T @ time)
    variance = max(float(np.sum(np.square(time - design @ found))) / freedom, TIMER_SD_S**2)
    value, error = float(found[1]), float(np.sqrt(variance * inverse[1, 1]))
    reach = float(special.stdtrit(freedom, 0.5 + 0.5 * level)) * error
    p_value = float(2.0 * special.stdtr(freedom, -abs(value) / error))
    return Estimate(value, value - reach, value + reach, level), p_value


def neighbor_correlation(runs: Runs) -> tuple[float, float]:
    """Return how alike neighboring laps are once each run's level and slope are taken off, and the one-sided p.

    The chance is that of independent laps, whose correlation has a standard deviation of 1 / sqrt(n) and, for the
    line taken off, a mean below zero: the p errs toward not finding any. NaN where no laps follow each other.
    """
    products, squares = 0.0, 0.0
    for lap, time in runs:
        if len(time) > _COLUMNS:
            left = time - np.polynomial.Polynomial.fit(lap, time, 1)(lap)
            products += float(np.sum((left[1:] * left[:-1])[np.diff(lap) == 1]))
            squares += float(np.sum(np.square(left)))
    if squares <= TIMER_SD_S**2:
        return np.nan, np.nan
    found = products / squares
    count = sum(len(time) for _, time in runs if len(time) > _COLUMNS)
    return found, float(special.ndtr(-found * np.sqrt(count)))


def _root(runs: Runs, correlation: float) -> Array:
    """Return the lower root of the correlation matrix of all laps; the runs are independent of each other."""
    lap = np.concatenate([run[0] for run in runs]).astype(np.float64)
    second = np.repeat([0, 1], [len(run[0]) for run in runs])
    apart = np.abs(lap[:, None] - lap[None, :])
    same = second[:, None] == second[None, :]
    return np.linalg.cholesky(np.where(same, np.power(correlation, apart), 0.0))
