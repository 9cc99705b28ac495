"""Pool rows that were each measured with a noise of their own, and let no single slip pull the answer.

A row scatters about its line by the residual spread of the thing itself and, on top of it, by its measurement:
its variance is ``residual_sd**2 + noise_sd**2``. The weights that say so depend on the residual spread that is being
estimated, so fit and weights take turns until they agree. A row further off than ``OUTLIER_SDS`` counts as one so noisy
that it stands just there, so that a slip of a gauge fades the more the larger it is.
"""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.pooling import Pooled, Prior, fit

Array = NDArray[np.float64]

OUTLIER_SDS: Final = 3.0
"""Standard deviations beyond which a row is held back; of honest rows one in 370 is."""

MOST_TURNS: Final = 25
AGREED: Final = 0.01
"""Relative change of the residual spread under which another turn changes nothing anyone reads."""


def fit_measured(
    y: ArrayLike,
    x: ArrayLike,
    groups: Mapping[str, ArrayLike],
    *,
    noise_sd: ArrayLike,
    prior: Prior,
    sds: Mapping[str, float] | None = None,
    dofs: Mapping[str, float] | None = None,
    outlier_sds: float = OUTLIER_SDS,
) -> Pooled:
    """Return the pooled fit of rows whose measurements are noisy to a known degree.

    Parameters
    ----------
    y, x, groups, prior, sds, dofs
        As for ``pooling.fit``; with ``sds`` held only the hold on outliers takes turns.
    noise_sd : array_like, shape (n,)
        Standard deviation of each row's measurement in the unit of y, at least 0.
    outlier_sds : float
        Standard deviations beyond which a row is held back, above 0.

    Returns
    -------
    Pooled
        ``residual_sd`` is that of a row measured without noise.

    Raises
    ------
    ValueError
        As ``pooling.fit``, or a noise that is negative or not a number.
    """
    values, design = np.asarray(y, dtype=np.float64), np.asarray(x, dtype=np.float64)
    noise = np.broadcast_to(within("noise_sd", noise_sd, at_least=0.0), values.shape)
    if np.isnan(noise).any():
        raise ValueError("noise_sd must be a number for every row, not nan")
    reach = float(within("outlier_sds", outlier_sds, above=0.0))
    residual = float(prior.residual_sd if sds is None else sds["residual"])
    hold = np.ones(values.shape)

    def fitted(held: Mapping[str, float] | None, freedom: Mapping[str, float] | None) -> Pooled:
        weights = hold * residual**2 / (residual**2 + np.square(noise))
        return fit(values, design, groups, weights=weights, prior=prior, sds=held, dofs=freedom)

    for _ in range(MOST_TURNS):
        pooled = fitted(sds, dofs)
        off = np.abs(values - _expected(pooled, design, groups)) / np.hypot(pooled.residual_sd, noise)
        held_back = np.square(reach / np.maximum(off, reach))
        moved = max(
            abs(pooled.residual_sd / residual - 1.0), float(np.max(np.abs(held_back - hold), initial=0.0))
        )
        residual, hold = pooled.residual_sd, held_back
        if moved <= AGREED:
            return pooled
    # The noise explains it all: the residual only creeps toward nothing, so it is held where it has come to.
    return fitted({**pooled.sd, "residual": residual}, pooled.dof)


def _expected(pooled: Pooled, x: Array, groups: Mapping[str, ArrayLike]) -> Array:
    """Return each row's expected value."""
    mean = x @ pooled.fixed
    for name, effects in pooled.effects.items():
        mean += np.append(effects, 0.0)[np.asarray(groups[name], dtype=np.intp)]
    return np.asarray(mean, dtype=np.float64)
