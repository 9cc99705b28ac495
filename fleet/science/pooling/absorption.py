"""Absorb the eliminated factor into the rest at any variance ratio, by the cheapest route.

Absorbed is links' diag(shrink) links, where shrink = ratio / (1 + ratio mass) of each eliminated level. It is wanted at
many ratios, and costs most of a fit where the levels' masses differ.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

CLASS_CELLS = 8_000_000
"""Numbers kept (64 MB) to sum levels of equal mass once instead of at every ratio."""
FEWEST_CLASSES = 16
"""Classes of similar mass that are still a useful approximation."""
MOST_CLASSES = 32
"""Classes of similar mass beyond which the approximation is better than it needs to be."""
CHUNK = 1024
"""Levels of the eliminated factor made dense at a time."""
DENSE_ADVANTAGE = 200.0
"""How many multiplications of a dense product cost as much as one of a sparse product."""

Array = NDArray[np.float64]


class Absorption(Protocol):
    """A route to what the eliminated factor takes from the rest, as a function of the variance ratio."""

    def at(self, ratio: float) -> Array:
        """Return links' diag(shrink) links (m, m)."""

    def slope(self, ratio: float) -> Array:
        """Return its derivative by the ratio, links' diag(1 / (1 + ratio mass)^2) links."""


@dataclass(frozen=True)
class Direct:
    """The exact route whatever the masses, a full product at every ratio."""

    links: sparse.csr_array
    mass: Array

    def at(self, ratio: float) -> Array:
        """Return the absorbed cross products by one product."""
        return product(self.links, np.sqrt(shrinkage(ratio, self.mass)))

    def slope(self, ratio: float) -> Array:
        """Return their derivative by one product."""
        return product(self.links, 1.0 / (1.0 + ratio * self.mass))


@dataclass(frozen=True)
class Classed:
    """Levels of one mass summed up once: ``masses`` (c,) and the ``sums`` (c, m, m) of links' links over mass.

    Where a class holds levels of several masses, what it takes from the rest is still never more than there is.
    """

    masses: Array
    sums: Array

    def at(self, ratio: float) -> Array:
        """Return the absorbed cross products as a weighted sum over the classes."""
        share = self.masses * shrinkage(ratio, self.masses)
        return np.asarray(np.tensordot(share, self.sums, axes=1))

    def slope(self, ratio: float) -> Array:
        """Return their derivative as a weighted sum over the classes."""
        by_ratio = self.masses / (1.0 + ratio * self.masses) ** 2
        return np.asarray(np.tensordot(by_ratio, self.sums, axes=1))


@dataclass(frozen=True)
class Centred:
    """A rough route set right at one ratio, the centre, where value and derivative are exact.

    What the rough route misses is a smooth and small function of the ratio. It is carried along linearly in the
    shrinkage of a level of average ``mass``, which stays bounded; away from the centre the error grows with the
    square of the way.
    """

    rough: Classed
    mass: float
    centre: float
    missed: Array
    missed_slope: Array

    def at(self, ratio: float) -> Array:
        """Return the absorbed cross products, exact at the centre."""
        way = float(shrinkage(ratio, self.mass) - shrinkage(self.centre, self.mass))
        return (
            self.rough.at(ratio)
            + self.missed
            + way * (1.0 + self.centre * self.mass) ** 2 * self.missed_slope
        )

    def slope(self, ratio: float) -> Array:
        """Return their derivative, exact at the centre."""
        bend = (1.0 + self.centre * self.mass) / (1.0 + ratio * self.mass)
        return self.rough.slope(ratio) + bend**2 * self.missed_slope


def shrinkage(ratio: float, mass: Array | float) -> Array:
    """Return the share of a level's mean that is believed, over its mass."""
    return np.asarray(ratio / (1.0 + ratio * np.asarray(mass)), dtype=np.float64)


def exact(links: sparse.csr_array, mass: Array) -> Direct | Classed:
    """Return the cheapest exact route: by classes where few masses occur, else by products."""
    masses, member = np.unique(mass, return_inverse=True)
    if len(masses) > _affordable(links):
        return Direct(links, mass)
    return Classed(masses, _class_sums(links, mass, member))


def rough(route: Direct) -> Classed | None:
    """Return a cheap approximation, levels of similar mass sharing their mean, or None where none pays."""
    most = min(_affordable(route.links), MOST_CLASSES)
    if most < FEWEST_CLASSES or _is_thin(route.links):
        return None
    logs = np.log(np.maximum(route.mass, route.mass[route.mass > 0.0].min()))
    edges = np.linspace(logs.min(), logs.max(), most - 1)[1:-1]
    classes = np.where(route.mass > 0.0, 1 + np.searchsorted(edges, logs), 0)
    _, member = np.unique(classes, return_inverse=True)
    means = np.bincount(member, route.mass) / np.bincount(member)
    return Classed(means, _class_sums(route.links, route.mass, member))


def centred(route: Direct, near: Classed, ratio: float) -> Centred:
    """Return the rough route ``near`` set right at a ratio by the exact one."""
    missed, missed_slope = route.at(ratio) - near.at(ratio), route.slope(ratio) - near.slope(ratio)
    return Centred(near, float(route.mass.mean()), ratio, missed, missed_slope)


def product(rows: sparse.csr_array, scale: Array) -> Array:
    """Return A'A of A = diag(scale) rows, by whichever algebra is cheaper."""
    if _is_thin(rows):
        scaled = sparse.csr_array(sparse.diags_array(scale) @ rows)
        return np.asarray((scaled.T @ scaled).toarray(), dtype=np.float64)
    result = np.zeros((rows.shape[1], rows.shape[1]))
    for start in range(0, rows.shape[0], CHUNK):
        dense = scale[start : start + CHUNK, None] * rows[start : start + CHUNK].toarray()
        result += dense.T @ dense
    return result


def _affordable(links: sparse.csr_array) -> int:
    return int(CLASS_CELLS // links.shape[1] ** 2)


def _is_thin(rows: sparse.csr_array) -> bool:
    """Tell whether a sparse product of the rows with themselves beats a dense one."""
    sparse_cost = float(np.sum(np.diff(rows.indptr).astype(np.float64) ** 2))
    return sparse_cost * DENSE_ADVANTAGE < float(rows.shape[0]) * float(rows.shape[1]) ** 2


def _class_sums(links: sparse.csr_array, mass: Array, member: NDArray[np.intp]) -> Array:
    order = np.argsort(member, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(member))[:-1])
    scale = np.where(mass > 0.0, mass, 1.0) ** -0.5
    sums = np.empty((len(parts), links.shape[1], links.shape[1]))
    for rank, part in enumerate(parts):
        sums[rank] = product(links[part], scale[part])
    return sums
