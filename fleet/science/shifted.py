"""Describe a skewed quantity by mean, standard deviation and skewness: the three-parameter lognormal distribution.

With skewness zero it is the normal distribution; a negative skewness mirrors it. Its skewness is
``(w + 2) sqrt(w - 1)`` with ``w = exp(sigma^2)`` [Johnson1994]. All functions broadcast and pass NaN through.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

LEAST_SIGMA: Final = 1e-4
"""Under this shape the distribution is normal to the last digit anyone reads."""


def sigma_of_skewness(skewness: ArrayLike) -> NDArray[np.float64]:
    """Return the shape of the lognormal distribution whose skewness has this size, sign dropped."""
    size = np.abs(np.asarray(skewness, dtype=np.float64))
    root = np.cbrt(1.0 + 0.5 * size * size + size * np.sqrt(1.0 + 0.25 * size * size))
    square = np.log(np.maximum(root + 1.0 / root - 1.0, 1.0))
    return np.asarray(np.maximum(np.sqrt(square), LEAST_SIGMA), dtype=np.float64)


def quantile(prob: ArrayLike, mean: ArrayLike, sd: ArrayLike, skewness: ArrayLike) -> NDArray[np.float64]:
    """Return the value that is not exceeded with the given probability, in the unit of the mean."""
    sign = np.where(np.asarray(skewness) < 0, -1.0, 1.0)
    sigma = sigma_of_skewness(skewness)
    z = sign * special.ndtri(np.asarray(prob, dtype=np.float64))
    score = np.expm1(sigma * z - 0.5 * sigma * sigma) / np.sqrt(np.expm1(sigma * sigma))
    return np.asarray(mean, dtype=np.float64) + np.asarray(sd, dtype=np.float64) * sign * score


def chance_below(
    value: ArrayLike, mean: ArrayLike, sd: ArrayLike, skewness: ArrayLike
) -> NDArray[np.float64]:
    """Return the probability that the quantity is at most the value."""
    sign = np.where(np.asarray(skewness) < 0, -1.0, 1.0)
    sigma = sigma_of_skewness(skewness)
    off = np.asarray(value, dtype=np.float64) - np.asarray(mean, dtype=np.float64)
    score = sign * off / np.asarray(sd, dtype=np.float64)
    inside = score * np.sqrt(np.expm1(sigma * sigma))
    z = np.where(inside <= -1.0, -np.inf, np.log1p(np.maximum(inside, -1.0 + 1e-15)))
    return np.asarray(special.ndtr(sign * (z + 0.5 * sigma * sigma) / sigma), dtype=np.float64)
