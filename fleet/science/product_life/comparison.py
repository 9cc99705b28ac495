"""Tell whether sets of two products last differently, and by how much."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from fleet.science.bounds import within
from fleet.science.product_life.lives import LEVEL, Interval, Lives, flags, normal_score, observed
from fleet.science.product_life.survival import Survival, curve, hazard_variance


@dataclass(frozen=True)
class LifeDifference:
    """Two products compared over the whole of their lives.

    Attributes
    ----------
    chi_squared, p_value : log-rank test with one degree of freedom; NaN where nothing could have differed
    worn, expected : sets worn out of the first and second product, and how many would be if both wore alike
    horizon : duration up to which the mean lives are compared
    mean_difference : how much longer a set of the second product runs up to the horizon, on average
    """

    chi_squared: float
    p_value: float
    worn: tuple[int, int]
    expected: tuple[float, float]
    horizon: float
    mean_difference: Interval


def compare(
    durations: ArrayLike,
    is_worn: ArrayLike,
    is_second: ArrayLike,
    *,
    seen_from: ArrayLike = 0.0,
    horizon: float | None = None,
    level: float = LEVEL,
) -> LifeDifference:
    """Return the log-rank test of [Mantel1966] and the difference of the mean lives up to a horizon.

    At each duration at which sets wore out, the first product is expected to lose its share of the sets at risk;
    the test sums what it lost beyond that, with the hypergeometric variance. A mean up to a horizon is the area
    under the curve ([Klein2003] section 4.5): sets still running leave the whole mean unknown, never this one.

    Parameters
    ----------
    durations, is_worn, seen_from : array_like, shape (sets,)
        As for ``survival_curve``.
    is_second : array_like of bool, shape (sets,)
        Whether the set is of the second product.
    horizon : float, optional
        Above 0; at most, and by default, the duration up to which both products were seen.
    level : float
        Probability of the difference's interval.

    Returns
    -------
    LifeDifference
        The mean difference is NaN where a product was never seen from new.

    Raises
    ------
    ValueError
        As ``survival_curve``; if ``is_second`` is not true or false for each set, or the horizon is out of range.
    """
    score = normal_score(level)
    second = flags("is_second", is_second, np.shape(durations))
    columns = (
        np.asarray(durations, dtype=np.float64),
        np.asarray(is_worn),
        np.broadcast_to(seen_from, second.shape),
    )
    groups = [observed(*(column[chosen] for column in columns)) for chosen in (~second, second)]
    curves = [curve(group, "log-log", score) for group in groups]
    longest = float(np.minimum(curves[0].seen_to, curves[1].seen_to))
    reach = longest if horizon is None else float(within("horizon", horizon, above=0.0, at_most=longest))
    (mean_a, var_a), (mean_b, var_b) = (_mean_up_to(each, reach) for each in curves)
    difference, half = mean_b - mean_a, score * np.sqrt(var_a + var_b)
    expected, variance = _expected(*groups)
    worn = int(groups[0].is_worn.sum()), int(groups[1].is_worn.sum())
    chi_squared = (worn[0] - expected) ** 2 / variance if variance > 0.0 else np.nan
    return LifeDifference(
        chi_squared=chi_squared,
        p_value=float(special.chdtrc(1.0, chi_squared)),
        worn=worn,
        expected=(expected, sum(worn) - expected),
        horizon=reach,
        mean_difference=Interval(*map(np.asarray, (difference, difference - half, difference + half))),
    )


def _expected(first: Lives, second: Lives) -> tuple[float, float]:
    """Return how many sets of the first product would wear out if both wore alike, and the variance of that."""
    at, worn = np.unique(
        np.concatenate([group.until[group.is_worn] for group in (first, second)]), return_counts=True
    )
    ours, theirs = first.at_risk(at), second.at_risk(at)
    together = ours + theirs
    share = ours / together
    spread = share * (theirs / together) * worn * (together - worn) / np.maximum(together - 1, 1)
    return float(np.sum(worn * share)), float(np.sum(spread))


def _mean_up_to(survival: Survival, horizon: float) -> tuple[float, float]:
    """Return the area under a curve up to a horizon it was seen to, and the variance of that."""
    if not survival.since <= 0.0:
        return np.nan, np.nan
    before = survival.durations < horizon
    widths = np.diff(np.concatenate(([0.0], survival.durations[before], [horizon])))
    areas = widths * np.concatenate(([1.0], survival.survival[before]))
    still_ahead = np.cumsum(areas[:0:-1])[::-1]
    terms = hazard_variance(survival.at_risk[before], survival.worn[before])
    return float(areas.sum()), float(np.sum(np.square(still_ahead) * terms))
