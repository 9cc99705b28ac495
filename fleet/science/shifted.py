"""Describe a skewed quantity by mean, standard deviation and skewness: the three-parameter lognormal distribution.

With skewness zero it is the normal distribution; a negative skewness mirrors it. Its skewness is
``(w + 2) sqrt(w - 1)`` with ``w = exp(sigma^2)`` [Johnson1994]. All functions broadcast and pass NaN through.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from fleet.science.bounds import within

LEAST_SIGMA: Final = 1e-4
"""Under this shape the distribution is normal to the last digit anyone reads."""

_JUST_INSIDE: Final = -1.0 + 1e-15
"""Beyond the end of the range; the chance there is none to fifteen digits."""


def sigma_of_skewness(skewness: ArrayLike) -> NDArray[np.float64]:
    """Return the shape of the lognormal distribution whose skewness has this size, sign dropped."""
    size = np.abs(np.asarray(skewness, dtype=np.float64))
    root = np.cbrt(1.0 + 0.5 * size * size + size * np.sqrt(1.0 + 0.25 * size * size))
    square = np.log(np.maximum(root + 1.0 / root - 1.0, 1.0))
    return np.asarray(np.maximum(np.sqrt(square), LEAST_SIGMA), dtype=np.float64)


def quantile(prob: ArrayLike, mean: ArrayLike, sd: ArrayLike, skewness: ArrayLike) -> NDArray[np.float64]:
    """Return the value that is not exceeded with the given probability, in the unit of the mean.

    Parameters
    ----------
    prob : array_like
        From 0 to 1.
    mean, sd, skewness : array_like
        Of the quantity; the standard deviation at least 0.

    Raises
    ------
    ValueError
        If a probability is outside 0 to 1 or a standard deviation negative.
    """
    share, spread = within("prob", prob, at_least=0.0, at_most=1.0), within("sd", sd, at_least=0.0)
    sign = np.where(np.asarray(skewness) < 0, -1.0, 1.0)
    sigma = sigma_of_skewness(skewness)
    z = sign * special.ndtri(share)
    score = np.expm1(sigma * z - 0.5 * sigma * sigma) / np.sqrt(np.expm1(sigma * sigma))
    return np.asarray(within("mean", mean) + spread * sign * score, dtype=np.float64)


@dataclass(frozen=True)
class Prepared:
    """Distributions made ready to be asked many times; the normal score is ``scale log1p(slope (x - mean)) + lift``."""

    mean: NDArray[np.float64]
    slope: NDArray[np.float64]
    scale: NDArray[np.float64]
    lift: NDArray[np.float64]

    def chance_below(self, value: ArrayLike) -> NDArray[np.float64]:
        """Return the probability that the quantity is at most the value."""
        inside = (np.asarray(value, dtype=np.float64) - self.mean) * self.slope
        score = self.scale * np.log1p(np.maximum(inside, _JUST_INSIDE)) + self.lift
        return np.asarray(special.ndtr(score), dtype=np.float64)


def prepared(mean: ArrayLike, sd: ArrayLike, skewness: ArrayLike) -> Prepared:
    """Return distributions ready to be asked for chances.

    Parameters
    ----------
    mean, sd, skewness : array_like
        Of the quantity; the standard deviation at least 0.

    Raises
    ------
    ValueError
        If a standard deviation is negative.
    """
    spread = within("sd", sd, at_least=0.0)
    sign = np.where(np.asarray(skewness) < 0, -1.0, 1.0)
    sigma = sigma_of_skewness(skewness)
    slope = sign * np.sqrt(np.expm1(sigma * sigma)) / spread
    return Prepared(within("mean", mean), slope, sign / sigma, 0.5 * sign * sigma)


def chance_below(
    value: ArrayLike, mean: ArrayLike, sd: ArrayLike, skewness: ArrayLike
) -> NDArray[np.float64]:
    """Return the probability that the quantity is at most the value.

    Parameters
    ----------
    value : array_like
        In the unit of the mean.
    mean, sd, skewness : array_like
        Of the quantity; the standard deviation at least 0.

    Raises
    ------
    ValueError
        If a standard deviation is negative.
    """
    return prepared(mean, sd, skewness).chance_below(value)
