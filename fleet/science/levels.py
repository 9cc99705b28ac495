"""Ask a fit about levels that may be newer than it."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.pooling import Pooled

NEVER_SEEN = -1


def known_codes(pooled: Pooled, groups: Mapping[str, ArrayLike]) -> dict[str, NDArray[np.intp]]:
    """Return each factor's codes in one dimension, those beyond the fit as a level never seen.

    Parameters
    ----------
    pooled : Pooled
        The fit that is asked.
    groups : mapping of str to array_like of int
        Codes per factor, from 0, or -1 for one never seen; those the fit is too old to know count as -1.

    Raises
    ------
    ValueError
        If a code is under -1.
    """
    return {name: _known(name, codes, len(pooled.effects[name])) for name, codes in groups.items()}


def _known(name: str, codes: ArrayLike, levels: int) -> NDArray[np.intp]:
    asked = np.ravel(np.asarray(codes, dtype=np.intp))
    if np.any(asked < NEVER_SEEN):
        raise ValueError(f"{name} must be a code from 0, or -1 for one never seen; got {int(asked.min())}")
    return np.where(asked >= levels, NEVER_SEEN, asked)


def counted(pooled: Pooled, name: str, codes: NDArray[np.intp]) -> NDArray[np.int64]:
    """Return how many rows of the fit stand behind each level; none for one never seen.

    Parameters
    ----------
    pooled : Pooled
        The fit that is asked.
    name : str
        One of its factors.
    codes : ndarray of int
        As from ``known_codes``.
    """
    rows = np.append(pooled.counts[name], 0)
    return np.asarray(rows[codes], dtype=np.int64)
