"""Rows checked before anything is computed from them."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.pooling.prior import Prior

ROUNDING = 1e-13
"""Relative size of what is no more than rounding."""
UNSEEN = -1
"""The code of a level never seen."""


@dataclass(frozen=True)
class Rows:
    """Checked rows: y (n,), x (n, p), weights (n,), and per factor its codes (n,) and rows per level."""

    y: NDArray[np.float64]
    x: NDArray[np.float64]
    weights: NDArray[np.float64]
    codes: dict[str, NDArray[np.intp]]
    counts: dict[str, NDArray[np.int64]]

    @property
    def levels(self) -> dict[str, int]:
        """Return how many levels each factor's codes allow for."""
        return {name: len(counts) for name, counts in self.counts.items()}

    @property
    def seen(self) -> dict[str, int]:
        """Return how many levels of each factor have rows; a row of unknown level is one of its own."""
        return {
            name: int(np.count_nonzero(counts)) + len(self.y) - int(counts.sum())
            for name, counts in self.counts.items()
        }


def read_rows(y: ArrayLike, x: ArrayLike, groups: Mapping[str, ArrayLike], weights: ArrayLike | None) -> Rows:
    """Return the rows as arrays, or raise ``ValueError`` naming the argument, the limit and the value."""
    response = np.asarray(y, dtype=np.float64)
    design = np.asarray(x, dtype=np.float64)
    if response.ndim != 1:
        raise ValueError(f"y must have one dimension, got shape {response.shape}")
    rows = len(response)
    if design.ndim != 2:  # noqa: PLR2004
        raise ValueError(f"x must have two dimensions (rows, fixed effects), got shape {design.shape}")
    if len(design) != rows:
        raise ValueError(f"x must have as many rows as y ({rows}), got {len(design)}")
    refuse_non_finite("y", response)
    refuse_non_finite("x", design)
    heft = np.ones(rows) if weights is None else np.asarray(weights, dtype=np.float64)
    if heft.shape != (rows,):
        raise ValueError(f"weights must have the shape of y ({rows},), got {heft.shape}")
    if not (np.isfinite(heft) & (heft > 0.0)).all():
        worst = heft[~(np.isfinite(heft) & (heft > 0.0))][0]
        raise ValueError(f"weights must be finite and above 0, got {worst}")
    codes = {name: read_codes(name, column, rows) for name, column in groups.items()}
    counts = {name: np.bincount(column[column >= 0]).astype(np.int64) for name, column in codes.items()}
    return Rows(response, design, heft, codes, counts)


def read_codes(name: str, column: ArrayLike, rows: int) -> NDArray[np.intp]:
    """Return one factor's codes, or raise ``ValueError`` when they are no codes of that many rows."""
    array = np.asarray(column)
    if array.size and array.dtype.kind not in "iu":
        raise ValueError(f"groups[{name!r}] must be integer codes (see encode), got {array.dtype}")
    if array.shape != (rows,):
        raise ValueError(f"groups[{name!r}] must have one code per row ({rows},), got shape {array.shape}")
    codes = array.astype(np.intp)
    if codes.min(initial=0) < UNSEEN:
        raise ValueError(f"groups[{name!r}] must be -1 (never seen) or above, got {codes.min()}")
    return codes


def refuse_non_finite(name: str, values: NDArray[np.float64]) -> None:
    """Raise ``ValueError`` when a value is missing or infinite."""
    bad = ~np.isfinite(values)
    if bad.any():
        place = tuple(int(i) for i in np.argwhere(bad)[0])
        raise ValueError(f"{name} must be finite, got {values[place]} at {place}")


def refuse_undetermined(rows: Rows) -> None:
    """Raise ``ValueError`` where standard deviations cannot be learned without a prior."""
    n, p = rows.x.shape
    if n <= p:
        raise ValueError(f"y must have more rows than the {p} fixed effects when no prior is given, got {n}")
    for name, seen in rows.seen.items():
        if not 1 < seen < n:
            raise ValueError(
                f"groups[{name!r}] must have at least 2 levels and fewer than the {n} rows when no prior "
                f"is given, got {seen}"
            )


def refuse_explained(rows: Rows, left: float) -> None:
    """Raise ``ValueError`` when the sum of squares the fixed effects leave is no more than rounding."""
    if left <= ROUNDING**2 * float(rows.weights @ rows.y**2):
        raise ValueError(
            f"y must vary beyond its fixed effects when no prior is given, got {left} left of it"
        )


def refuse_foreign_prior(prior: Prior, rows: Rows) -> None:
    """Raise ``ValueError`` when the prior speaks of other fixed effects or factors than the rows."""
    if len(prior.means) != rows.x.shape[1]:
        raise ValueError(f"prior mean must have length {rows.x.shape[1]} as x, got {len(prior.means)}")
    missing = sorted(set(rows.codes) - set(prior.group_sd))
    if missing:
        raise ValueError(f"prior group_sd must name every factor, got none for {', '.join(missing)}")


def read_sds(sds: Mapping[str, float], names: tuple[str, ...]) -> NDArray[np.float64]:
    """Return the held standard deviations, factors in the order of ``names``, the residual last."""
    missing = sorted({*names, "residual"} - set(sds))
    if missing:
        raise ValueError(f"sds must name every factor and 'residual', got none for {', '.join(missing)}")
    values = np.array([sds[name] for name in (*names, "residual")], dtype=np.float64)
    if not (np.isfinite(values).all() and (values >= 0.0).all() and values[-1] > 0.0):
        raise ValueError(f"sds must be finite, at least 0 and above 0 for 'residual', got {dict(sds)}")
    return values
