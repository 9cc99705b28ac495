"""Results with one entry per question asked, held as columns."""

from collections.abc import Sequence
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray


class Columns:
    """What a dataclass of arrays, all with the same first axis, can do with its rows."""

    def where(self, mask: NDArray[np.bool_]) -> Self:
        """Return some of the rows."""
        return type(self)(**{name: column[mask] for name, column in vars(self).items()})

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """Return the rows of all parts, one after the other."""
        names = vars(parts[0])
        return cls(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})

    def __len__(self) -> int:
        first: NDArray[Any] = next(iter(vars(self).values()))
        return len(first)
