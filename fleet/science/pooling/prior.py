"""What is believed before any row has been seen."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class Prior:
    """A belief about the fixed effects and about the typical size of each standard deviation.

    Fixed effect j is normal with ``mean[j]`` and ``sd[j]``; an infinite ``sd`` means nothing is believed.
    Each variance has a scaled inverse chi-squared prior [Gelman2013] section 2.6: it counts like ``strength``
    further levels (or, for the residual, further rows) whose mean square is the typical size squared. It
    therefore decides alone without data and fades as levels and rows grow.

    Parameters
    ----------
    mean, sd : array_like, shape (p,)
        In the unit of y per unit of x; ``sd`` above 0, infinity allowed.
    group_sd : mapping of str to float
        Typical standard deviation of each factor, in the unit of y, above 0.
    residual_sd : float
        Typical standard deviation of a row of weight 1 around its line, in the unit of y, above 0.
    strength : float
        Above 0; 2 to 5 is weak.

    Raises
    ------
    ValueError
        Different lengths, or a value outside the limits above.
    """

    mean: ArrayLike
    sd: ArrayLike
    group_sd: Mapping[str, float]
    residual_sd: float
    strength: float = 3.0

    def __post_init__(self) -> None:
        mean, sd = self.means, self.sds
        if mean.ndim != 1 or mean.shape != sd.shape:
            raise ValueError(f"prior mean and sd must be of one length, got {mean.shape} and {sd.shape}")
        if not np.isfinite(mean).all():
            raise ValueError(f"prior mean must be finite, got {mean.tolist()}")
        if not (sd > 0.0).all():
            raise ValueError(f"prior sd must be above 0, got {sd.tolist()}")
        sizes = {f"group_sd[{name!r}]": size for name, size in self.group_sd.items()}
        for name, size in {**sizes, "residual_sd": self.residual_sd, "strength": self.strength}.items():
            if not (np.isfinite(size) and size > 0.0):
                raise ValueError(f"prior {name} must be finite and above 0, got {size}")

    @property
    def means(self) -> NDArray[np.float64]:
        """Return the means as an array of shape (p,)."""
        return np.asarray(self.mean, dtype=np.float64)

    @property
    def sds(self) -> NDArray[np.float64]:
        """Return the standard deviations of the fixed effects as an array of shape (p,)."""
        return np.asarray(self.sd, dtype=np.float64)
