"""How many tires of a spec an event will ask for, and how many to bring.

Each rider needs a tire or does not, with a chance of their own: the number needed has the Poisson-binomial distribution
[Hong2013], computed exactly by adding one rider after the other, which takes no differences and so never goes under 0.
A chance that is itself uncertain counts by its mean as long as its error is the rider's alone. What moves all chances
together, such as the weather or a track that wears more than thought, does not average out; ``common_sd`` is for that.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special
from scipy.optimize import elementwise

from fleet.science.bounds import within

Array = NDArray[np.float64]

MOST_COMMON_SD: Final = 5.0
"""Beyond it all riders but the certain ones would need a tire together, or none would."""

REACH: Final = 8.0
"""Standard deviations of the common shift that are summed over; beyond lies less than can be stored."""

COARSEST: Final = 0.25
OVERLAP: Final = 1.5
"""Grid of the common shift: so fine that neighboring distributions of the count melt into one another."""

_ROUNDING: Final = 1e-12
_ADDS_UP: Final = 1e-9


def demand_pmf(chances: ArrayLike, *, common_sd: float = 0.0) -> Array:
    """Return the probabilities that 0, 1, ... and all riders need a tire.

    Independent chances promise more certainty than there is when one cause moves all of them: then let ``common_sd``
    say by how much. Every log-odds is shifted by the same normal amount, summed by the trapezoidal rule, which is
    as good as exact for a bell [Trefethen2014]. Each rider's chance over all shifts stays the one given, and so
    does the mean demand; only its spread grows.

    Parameters
    ----------
    chances : array_like, shape (riders,)
        Chance of each rider to need one, 0 to 1. A second tire for the same rider is a second entry,
        counted as if it were another rider.
    common_sd : float
        Standard deviation of the shift that all log-odds share, 0 to 5; 0.5 moves a chance of 0.30 to between 0.16 and
        0.49 on nine days in ten.

    Returns
    -------
    ndarray, shape (riders + 1,)
        Adds up to 1. Thousands of riders with a common shift take seconds.

    Raises
    ------
    ValueError
        If a chance is missing or not between 0 and 1, chances are not in one dimension, or the standard deviation is
        out of range.
    """
    known = within("chances", chances, at_least=0.0, at_most=1.0)
    if known.ndim != 1 or np.isnan(known).any():
        raise ValueError(
            f"chances must be known in one dimension, not {np.isnan(known).sum()} missing of {known.shape}"
        )
    shared = float(_known("common_sd", within("common_sd", common_sd, at_least=0.0, at_most=MOST_COMMON_SD)))
    if shared == 0.0 or known.size == 0:
        return _added_up(known[:, None])[:, 0]
    shifts, weights = _common_shifts(shared, known.size)
    return np.asarray(_added_up(_shifted(known, shifts, weights)) @ weights)


def demand_by_spec(spec_codes: ArrayLike, chances: ArrayLike, *, common_sd: float = 0.0) -> dict[int, Array]:
    """Return the probabilities of ``demand_pmf`` for each spec, by its code.

    With a common shift the demands of two specs rise and fall together: their sum is not that of independent ones.

    Parameters
    ----------
    spec_codes : array_like of int, shape (riders,)
        The spec each chance is about.
    chances, common_sd
        As for ``demand_pmf``.

    Raises
    ------
    ValueError
        As ``demand_pmf``, or if the codes are not integers, one per chance.
    """
    codes, known = np.asarray(spec_codes), np.asarray(chances, dtype=np.float64)
    if codes.shape != known.shape or not (codes.dtype.kind in "iu" or codes.size == 0):
        raise ValueError(f"spec_codes must be integers, one for each of {known.shape} chances")
    return {int(code): demand_pmf(known[codes == code], common_sd=common_sd) for code in np.unique(codes)}


def demand_mean(pmf: ArrayLike) -> float:
    """Return the mean number of tires needed from the probabilities ``pmf`` of 0, 1, ... of them.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1.
    """
    return float(_counts(pmf) @ _distribution(pmf))


def demand_sd(pmf: ArrayLike) -> float:
    """Return the standard deviation of the number of tires needed from the probabilities ``pmf`` of 0, 1, ... of them.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1.
    """
    return float(np.sqrt(np.square(_counts(pmf) - demand_mean(pmf)) @ _distribution(pmf)))


def stock_for_service(pmf: ArrayLike, service_level: ArrayLike) -> NDArray[np.int_]:
    """Return the fewest tires that suffice with a probability: the quantiles of the demand.

    Parameters
    ----------
    pmf : array_like, shape (riders + 1,)
        Probabilities of 0, 1, ... tires needed.
    service_level : array_like
        Probability that no rider goes without, 0 to 1.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1, or a level is missing or not between 0 and 1.
    """
    levels = _known("service_level", within("service_level", service_level, at_least=0.0, at_most=1.0))
    reached = np.cumsum(_distribution(pmf))
    return np.asarray(np.searchsorted(reached, levels - _ROUNDING), dtype=np.int_)


def critical_ratio(under_cost: ArrayLike, over_cost: ArrayLike) -> Array:
    """Return the service level at which one more tire costs as much as it saves, by [Porteus2002].

    Parameters
    ----------
    under_cost : array_like
        What is lost for each tire that is missing, above 0, in any currency.
    over_cost : array_like
        What is lost for each tire left over, at least 0, in the same currency.

    Raises
    ------
    ValueError
        If a cost is out of range.
    """
    under = within("under_cost", under_cost, above=0.0)
    return np.asarray(under / (under + within("over_cost", over_cost, at_least=0.0)))


def stock_for_cost(pmf: ArrayLike, under_cost: ArrayLike, over_cost: ArrayLike) -> NDArray[np.int_]:
    """Return the fewest tires whose expected cost is least: those that serve at the critical ratio.

    Parameters
    ----------
    pmf : array_like, shape (riders + 1,)
        Probabilities of 0, 1, ... tires needed.
    under_cost, over_cost : array_like
        As for ``critical_ratio``; both must be known.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1, or a cost is missing or out of range.
    """
    return stock_for_service(
        pmf, critical_ratio(_known("under_cost", under_cost), _known("over_cost", over_cost))
    )


def expected_shortage(pmf: ArrayLike, stock: ArrayLike) -> Array:
    """Return the mean number of tires missing with a stock.

    Parameters
    ----------
    pmf : array_like, shape (riders + 1,)
        Probabilities of 0, 1, ... tires needed.
    stock : array_like
        Tires brought, at least 0.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1, or a stock is negative.
    """
    return _mean_above(_counts(pmf) - _stocks(stock), pmf)


def expected_leftover(pmf: ArrayLike, stock: ArrayLike) -> Array:
    """Return the mean number of tires left over from a stock.

    Parameters
    ----------
    pmf : array_like, shape (riders + 1,)
        Probabilities of 0, 1, ... tires needed.
    stock : array_like
        Tires brought, at least 0.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1, or a stock is negative.
    """
    return _mean_above(_stocks(stock) - _counts(pmf), pmf)


def fill_rate(pmf: ArrayLike, stock: ArrayLike) -> Array:
    """Return the share of the tires needed that a stock supplies, on average; 1 where none is ever needed.

    Parameters
    ----------
    pmf : array_like, shape (riders + 1,)
        Probabilities of 0, 1, ... tires needed.
    stock : array_like
        Tires brought, at least 0.

    Raises
    ------
    ValueError
        If probabilities are negative or do not add up to 1, or a stock is negative.
    """
    short, mean = expected_shortage(pmf, stock), demand_mean(pmf)
    return np.asarray(1.0 - short / mean if mean > 0.0 else np.where(np.isnan(short), np.nan, 1.0))


def _added_up(chances: Array) -> Array:
    """Return the distribution of the count down each column, adding one row of chances after the other."""
    pmf = np.zeros((len(chances) + 1, chances.shape[1]))
    pmf[0] = 1.0
    for count, chance in enumerate(chances, start=1):
        gained = pmf[:count] * chance
        pmf[:count] *= 1.0 - chance
        pmf[1 : count + 1] += gained
    return pmf


def _common_shifts(sd: float, riders: int) -> tuple[Array, Array]:
    """Return the nodes of the common shift in log-odds, and their weights."""
    spacing = 1.0 / max(1.0 / COARSEST, sd * np.sqrt(riders) / OVERLAP)
    z = spacing * np.arange(-np.ceil(REACH / spacing), np.ceil(REACH / spacing) + 1.0)
    weights = np.exp(-0.5 * np.square(z))
    return sd * z, weights / weights.sum()


def _shifted(chances: Array, shifts: Array, weights: Array) -> Array:
    """Return each rider's chance at each shift, the mean over the shifts being the chance given."""
    # Solved for the rarer of needing one and not: near 1 a chance has no digits left to tell it from certainty.
    rarer = np.minimum(chances, 1.0 - chances)
    middles = np.full(chances.shape, -np.inf)
    uncertain = rarer > 0.0
    given = special.logit(rarer[uncertain])

    def excess(middle: Array, chance: Array) -> Array:
        return np.asarray(special.expit(middle[..., None] + shifts) @ weights - chance)

    # One more log unit to each side, so that a shift too small to tell from none still leaves a bracket.
    reach = shifts[-1] + 1.0
    middles[uncertain] = elementwise.find_root(
        excess, (given - reach, given + reach), args=(rarer[uncertain],)
    ).x
    side = np.where(chances > rarer, -1.0, 1.0)
    return np.asarray(special.expit((side * middles)[:, None] + shifts), dtype=np.float64)


def _known(name: str, values: ArrayLike) -> Array:
    numbers = np.asarray(values, dtype=np.float64)
    if np.isnan(numbers).any():
        raise ValueError(f"{name} must be known, not nan")
    return numbers


def _distribution(pmf: ArrayLike) -> Array:
    known = within("pmf", pmf, at_least=0.0)
    total = known.sum() if known.ndim == 1 else np.nan
    if not abs(total - 1.0) <= _ADDS_UP:
        raise ValueError(f"pmf must add up to 1 in one dimension, not to {total:g}")
    return known


def _counts(pmf: ArrayLike) -> Array:
    return np.arange(np.size(pmf), dtype=np.float64)


def _stocks(stock: ArrayLike) -> Array:
    return within("stock", stock, at_least=0.0)[..., None]


def _mean_above(amounts: Array, pmf: ArrayLike) -> Array:
    return np.asarray(np.maximum(amounts, 0.0) @ _distribution(pmf))
