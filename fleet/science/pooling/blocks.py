"""Cross products of the rows: all that fitting needs of them, whatever their number."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from fleet.science.pooling.absorption import CHUNK, Absorption

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Blocks:
    """Weighted cross products of the rows; ``rest`` is every factor but the eliminated one, then x, last y.

    Every factor carries one level more than it has codes, the last, which no row belongs to: it is the
    level never seen, so that prediction needs no special case.

    Attributes
    ----------
    names : factors, the eliminated one first
    spans : columns of ``rest`` per factor and, last, of x
    mass : (q,) total weight per eliminated level
    links : (q, m + 1) eliminated levels against rest
    square : (m + 1, m + 1) rest against rest
    absorbed : what eliminating takes from ``square``
    rows, log_weights : number of rows, sum of the logarithms of their weights
    """

    names: tuple[str, ...]
    spans: tuple[slice, ...]
    mass: Array
    links: sparse.csr_array
    square: Array
    absorbed: Absorption
    rows: int
    log_weights: float

    @property
    def total(self) -> float:
        """Return y against y."""
        return float(self.square[-1, -1])


def quadratic(rows: sparse.csr_array, middle: Array) -> Array:
    """Return b' middle b for each row b of a sparse matrix, in pieces so that memory stays small."""
    pieces = [np.zeros(0)]
    for start in range(0, rows.shape[0], CHUNK):
        part = rows[start : start + CHUNK]
        pieces.append(np.asarray(part.multiply(part @ middle).sum(axis=1), dtype=np.float64).ravel())
    return np.concatenate(pieces)
