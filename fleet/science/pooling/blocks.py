"""Cross products of the rows: all that fitting needs of them, whatever their number."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

CLASS_CELLS = 8_000_000
"""Numbers kept (64 MB) to sum levels of equal mass once instead of at every step."""
FEWEST_CLASSES = 16
"""Classes of similar mass that are still a useful approximation."""
CHUNK = 4096
"""Levels of the eliminated factor made dense at a time."""
DENSE_ADVANTAGE = 200.0
"""How many multiplications of a dense product cost as much as one of a sparse product."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Blocks:
    """Weighted cross products of the rows; ``rest`` is every factor but the eliminated one, then x.

    Every factor carries one level more than it has codes, the last, which no row belongs to: it is the
    level never seen, so that prediction needs no special case.

    Attributes
    ----------
    names : factors, the eliminated one first
    spans : columns of ``rest`` per factor and, last, of x
    mass : (q,) total weight per eliminated level
    links : (q, m) eliminated levels against rest
    pull : (q,) eliminated levels against y
    square, side, total : rest against rest, rest against y, y against y
    rows, log_weights : number of rows, sum of the logarithms of their weights
    """

    names: tuple[str, ...]
    spans: tuple[slice, ...]
    mass: Array
    links: sparse.csr_array
    pull: Array
    square: Array
    side: Array
    total: float
    rows: int
    log_weights: float

    def linked(self, factor: Array) -> Array:
        """Return links' diag(factor) links; ``factor`` (q,), at least 0, depends on a level's mass alone."""
        masses, member = self._classes
        if len(masses) > self._affordable:
            return _product(self.links, np.sqrt(factor))
        per_class = np.zeros(len(masses))
        per_class[member] = factor
        return np.asarray(np.tensordot(per_class, self._class_sums, axes=1))

    def rounded(self) -> "Blocks | None":
        """Return blocks of nearly the same likelihood that cost far less per step, or None where none do.

        Levels of similar mass get the same mass.
        """
        masses, _ = self._classes
        if len(masses) <= self._affordable or self._affordable < FEWEST_CLASSES or _is_thin(self.links):
            return None
        logs = np.log(np.maximum(self.mass, masses[masses > 0.0].min()))
        edges = np.linspace(logs.min(), logs.max(), self._affordable - 1)[1:-1]
        member = np.where(self.mass > 0.0, 1 + np.searchsorted(edges, logs), 0)
        means = np.bincount(member, self.mass) / np.maximum(np.bincount(member), 1)
        return replace(self, mass=means[member])

    @property
    def _affordable(self) -> int:
        return int(CLASS_CELLS // self.square.size)

    @cached_property
    def _classes(self) -> tuple[Array, NDArray[np.intp]]:
        masses, member = np.unique(self.mass, return_inverse=True)
        return masses, member

    @cached_property
    def _class_sums(self) -> Array:
        masses, member = self._classes
        order = np.argsort(member, kind="stable")
        parts = np.split(order, np.cumsum(np.bincount(member))[:-1])
        sums = np.empty((len(masses), *self.square.shape))
        for rank, part in enumerate(parts):
            sums[rank] = _product(self.links[part], np.ones(len(part)))
        return sums


def quadratic(rows: sparse.csr_array, middle: Array) -> Array:
    """Return b' middle b for each row b of a sparse matrix, in pieces so that memory stays small."""
    pieces = [np.zeros(0)]
    for start in range(0, rows.shape[0], CHUNK):
        part = rows[start : start + CHUNK]
        pieces.append(np.asarray(part.multiply(part @ middle).sum(axis=1), dtype=np.float64).ravel())
    return np.concatenate(pieces)


def _is_thin(rows: sparse.csr_array) -> bool:
    """Tell whether a sparse product of the rows with themselves beats a dense one."""
    sparse_cost = float(np.sum(np.diff(rows.indptr).astype(np.float64) ** 2))
    return sparse_cost * DENSE_ADVANTAGE < float(rows.shape[0]) * float(rows.shape[1]) ** 2


def _product(rows: sparse.csr_array, scale: Array) -> Array:
    """Return A'A of A = diag(scale) rows, by whichever algebra is cheaper."""
    if _is_thin(rows):
        scaled = sparse.csr_array(sparse.diags_array(scale) @ rows)
        return np.asarray((scaled.T @ scaled).toarray(), dtype=np.float64)
    result = np.zeros((rows.shape[1], rows.shape[1]))
    for start in range(0, rows.shape[0], CHUNK):
        dense = scale[start : start + CHUNK, None] * rows[start : start + CHUNK].toarray()
        result += dense.T @ dense
    return result
