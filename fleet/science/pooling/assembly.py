"""Sum the rows up into cross products, in time and memory proportional to their number."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from fleet.science.pooling.absorption import exact
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
    numbers = np.vstack((rows.x.T, residual))
    weighted = rows.weights * numbers
    spans = tuple(_spans([*(sizes[name] for name in rest), rows.x.shape[1]]))
    mass = _sums(codes[first], rows.weights, sizes[first]) if first in codes else np.zeros(1)
    links = _links(rows.weights, weighted, codes, sizes, first)
    return Blocks(
        names=tuple(name for name in (first, *rest) if name in codes),
        spans=spans,
        mass=mass,
        links=links,
        square=_square(rows.weights, weighted, numbers, codes, dict(zip(rest, spans, strict=False))),
        absorbed=exact(links, mass),
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
    weights: Array, weighted: Array, codes: dict[str, NDArray[np.intp]], sizes: dict[str, int], first: str
) -> sparse.csr_array:
    """Return the eliminated levels against the levels of every other factor, then against the numbers."""
    if first not in codes:
        return sparse.csr_array((1, len(weighted)), dtype=np.float64)
    main, size = codes[first].astype(np.int32), sizes[first]
    parts = [
        sparse.csr_array((weights, (main, codes[name].astype(np.int32))), (size, sizes[name]))
        for name in codes
        if name != first
    ]
    parts.append(sparse.csr_array(_table(codes[first], weighted, size)))
    return sparse.csr_array(sparse.hstack(parts, format="csr"))


def _square(
    weights: Array,
    weighted: Array,
    numbers: Array,
    codes: dict[str, NDArray[np.intp]],
    spans: dict[str, slice],
) -> Array:
    """Return the levels of the factors in ``spans``, and after them the numbers, against themselves."""
    levels = max((span.stop for span in spans.values()), default=0)
    square = np.zeros((levels + len(numbers), levels + len(numbers)))
    square[levels:, levels:] = numbers @ weighted.T
    for place, (name, span) in enumerate(spans.items()):
        size = span.stop - span.start
        square[span, levels:] = _table(codes[name], weighted, size)
        square[levels:, span] = square[span, levels:].T
        for other, across in list(spans.items())[: place + 1]:
            width = across.stop - across.start
            pairs = codes[name] * width + codes[other]
            cross = _sums(pairs, weights, size * width).reshape(size, width)
            square[span, across], square[across, span] = cross, cross.T
    return square


def _table(codes: NDArray[np.intp], values: Array, size: int) -> Array:
    """Return the sums of every row of the values by level, (size, len(values))."""
    return np.column_stack([_sums(codes, row, size) for row in values])
