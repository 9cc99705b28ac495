"""Describe a skewed quantity by mean, standard deviation and skewness: the three-parameter lognormal distribution.

With skewness zero it is the normal distribution; a negative skewness mirrors it. Its skewness is
``(w + 2) sqrt(w - 1)`` with ``w = exp(sigma^2)`` [Johnson1994]. All functions broadcast and pass NaN through.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

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
    """Return the value that is not exceeded with the given probability, in the unit of the mean."""
    sign = np.where(np.asarray(skewness) < 0, -1.0, 1.0)
    sigma = sigma_of_skewness(skewness)
    z = sign * special.ndtri(np.asarray(prob, dtype=np.float64))
    score = np.expm1(sigma * z - 0.5 * sigma * sigma) / np.sqrt(np.expm1(sigma * sigma))
    return np.asarray(mean, dtype=np.float64) + np.asarray(sd, dtype=np.float64) * sign * score


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
    """Return distributions ready to be asked for chances."""
    sign = np.where(np.asarray(skewness) < 0, -1.0, 1.0)
    sigma = sigma_of_skewness(skewness)
    slope = sign * np.sqrt(np.expm1(sigma * sigma)) / np.asarray(sd, dtype=np.float64)
    return Prepared(np.asarray(mean, dtype=np.float64), slope, sign / sigma, 0.5 * sign * sigma)


def chance_below(
    value: ArrayLike, mean: ArrayLike, sd: ArrayLike, skewness: ArrayLike
) -> NDArray[np.float64]:
    """Return the probability that the quantity is at most the value."""
    return prepared(mean, sd, skewness).chance_below(value)
