"""Bridge to what was learned: a fit together with the names of its levels, stored whole and opened again."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fleet.life.models import LearnedModel
from fleet.life.queries import learned_for
from fleet.science import wear
from fleet.science.pooling import Pooled
from fleet.science.pooling.packing import unpack

FACTORS: Final = ("product", "track", "rider")


@dataclass(frozen=True)
class Learned:
    """A fit with the codes of its levels and, once stored, its row; without any data yet, nothing."""

    pooled: Pooled | None
    levels: dict[str, list[str]]
    row: LearnedModel | None = None

    def codes(self, factor: str, names: Iterable[str]) -> NDArray[np.intp]:
        """Return the fit's codes of some levels, -1 for one it never saw."""
        place = {name: index for index, name in enumerate(self.levels.get(factor, []))}
        return np.array([place.get(name, -1) for name in names], dtype=np.intp)

    def multipliers(self) -> dict[str, float]:
        """Return by track how many times an ordinary track's wear it costs."""
        if self.pooled is None:
            return {}
        return dict(zip(self.levels["track"], wear.track_multipliers(self.pooled).tolist(), strict=True))


NOTHING: Final = Learned(None, {})


@lru_cache(maxsize=4)
def _unpacked(pk: Any) -> Pooled:
    return unpack(bytes(LearnedModel.objects.values_list("packed", flat=True).get(pk=pk)))


def opened(row: LearnedModel | None) -> Learned:
    """Return a stored fit, ready to be asked; only its figures are kept at hand, since an erasure renames levels."""
    return Learned(_unpacked(row.pk), row.levels, row) if row else NOTHING


def newest(subject: str) -> Learned:
    """Return the newest stored fit of a subject, ready to be asked."""
    return opened(learned_for(subject))


def coded(columns: Mapping[str, Sequence[str]]) -> tuple[dict[str, list[str]], dict[str, NDArray[np.intp]]]:
    """Return the levels in the order of their names and each row's code; an empty name is unknown, -1."""
    levels = {factor: sorted({name for name in names if name}) for factor, names in columns.items()}
    learned = Learned(None, levels)
    return levels, {factor: learned.codes(factor, names) for factor, names in columns.items()}
