"""Sum the rows up into cross products, in time and memory proportional to their number."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from fleet.science.pooling.blocks import Blocks
from fleet.science.pooling.inputs import Rows

DENSE_COLUMNS = 5_000
"""Levels outside the eliminated factor that dense algebra bears."""

Array = NDArray[np.float64]


def build(rows: Rows, residual: Array, eliminate: str | None) -> Blocks:
    """Return the cross products of the rows with ``residual`` (n,) in the place of y."""
    codes, sizes = _own_levels(rows)
    first = eliminate or max(sizes, key=lambda name: sizes[name], default="")
    rest = tuple(name for name in codes if name != first)
    width = sum(sizes[name] for name in rest)
    if width > DENSE_COLUMNS:
        raise ValueError(
            f"groups must have at most {DENSE_COLUMNS} levels outside the largest factor {first!r}, got {width}"
        )
    main = codes.get(first, np.zeros(len(residual), dtype=np.intp))
    size = sizes.get(first, 1)
    square, side = _dense(rows, codes, sizes, rest, residual)
    has_factor = first in codes
    return Blocks(
        names=(*((first,) if has_factor else ()), *rest),
        spans=tuple(_spans([*(sizes[name] for name in rest), rows.x.shape[1]])),
        mass=_sums(main, rows.weights, size) if has_factor else np.zeros(1),
        links=_links(rows, codes, sizes, first, rest),
        pull=_sums(main, rows.weights * residual, size) if has_factor else np.zeros(1),
        square=square,
        side=side,
        total=float(np.sum(rows.weights * residual**2)),
        rows=len(residual),
        log_weights=float(np.log(rows.weights).sum()),
    )


def _own_levels(rows: Rows) -> tuple[dict[str, NDArray[np.intp]], dict[str, int]]:
    """Give each row of code -1 a level of its own, after the known ones, and leave one more level empty."""
    codes, sizes = {}, {}
    for name, column in rows.codes.items():
        unknown = column < 0
        extra = int(unknown.sum())
        own = column.copy()
        own[unknown] = rows.levels[name] + np.arange(extra)
        codes[name], sizes[name] = own, rows.levels[name] + extra + 1
    return codes, sizes


def _sums(codes: NDArray[np.intp], values: Array, size: int) -> Array:
    return np.asarray(np.bincount(codes, values, size), dtype=np.float64)


def _spans(sizes: list[int]) -> Iterator[slice]:
    start = 0
    for size in sizes:
        yield slice(start, start + size)
        start += size


def _links(
    rows: Rows, codes: dict[str, NDArray[np.intp]], sizes: dict[str, int], first: str, rest: tuple[str, ...]
) -> sparse.csr_array:
    width = sum(sizes[name] for name in rest) + rows.x.shape[1]
    if first not in codes:
        return sparse.csr_array((1, width), dtype=np.float64)
    main, size = codes[first], sizes[first]
    parts = [
        sparse.csr_array(
            (rows.weights, (main.astype(np.int32), codes[name].astype(np.int32))), (size, sizes[name])
        )
        for name in rest
    ]
    fixed = np.zeros((size, rows.x.shape[1]))
    for place, column in enumerate(rows.x.T):
        fixed[:, place] = _sums(main, rows.weights * column, size)
    parts.append(sparse.csr_array(fixed))
    return sparse.csr_array(sparse.hstack(parts, format="csr"))


def _dense(
    rows: Rows,
    codes: dict[str, NDArray[np.intp]],
    sizes: dict[str, int],
    rest: tuple[str, ...],
    residual: Array,
) -> tuple[Array, Array]:
    p = rows.x.shape[1]
    spans = list(_spans([*(sizes[name] for name in rest), p]))
    square, side = np.zeros((spans[-1].stop, spans[-1].stop)), np.zeros(spans[-1].stop)
    weighted = rows.weights[:, None] * rows.x
    square[spans[-1], spans[-1]] = rows.x.T @ weighted
    side[spans[-1]] = weighted.T @ residual
    for place, name in enumerate(rest):
        size, span = sizes[name], spans[place]
        side[span] = _sums(codes[name], rows.weights * residual, size)
        cross = np.zeros((p, size))
        for row, column in enumerate(weighted.T):
            cross[row] = _sums(codes[name], column, size)
        square[spans[-1], span], square[span, spans[-1]] = cross, cross.T
        for other_place, other in enumerate(rest[: place + 1]):
            pairs = codes[name] * sizes[other] + codes[other]
            table = _sums(pairs, rows.weights, size * sizes[other]).reshape(size, sizes[other])
            square[span, spans[other_place]], square[spans[other_place], span] = table, table.T
    return square, side
