"""Turn names into integer codes."""

from collections.abc import Hashable

import numpy as np
from numpy.typing import ArrayLike, NDArray


def encode(*columns: ArrayLike) -> tuple[NDArray[np.int64], list[tuple[Hashable, ...]]]:
    """Return one integer code per row for every distinct combination of the columns.

    A nested factor is coded by its parent and itself: ``encode(track, layout)`` keeps the layout "short"
    of one track apart from the "short" of another.

    Parameters
    ----------
    *columns : array_like, shape (n,)
        Numbers or text, one column per factor; missing values are refused.

    Returns
    -------
    codes : ndarray of int64, shape (n,)
        From 0, in the sorted order of the levels, therefore independent of the order of the rows.
    levels : list of tuple
        ``levels[code]`` holds the combination, one entry per column.

    Raises
    ------
    ValueError
        No column, columns of different lengths, or a missing value.
    """
    if not columns:
        raise ValueError("encode needs at least one column, got none")
    arrays = [_column(number, column) for number, column in enumerate(columns)]
    lengths = [len(array) for array in arrays]
    if len(set(lengths)) > 1:
        raise ValueError(f"encode needs columns of one length, got {lengths}")
    codes = np.zeros(lengths[0], dtype=np.int64)
    for array in arrays:
        values, inverse = np.unique(array, return_inverse=True)
        codes = np.unique(codes * max(len(values), 1) + inverse, return_inverse=True)[1].astype(np.int64)
    first = np.unique(codes, return_index=True)[1]
    levels = list(zip(*(array[first].tolist() for array in arrays), strict=True))
    return codes, levels


def _column(number: int, column: ArrayLike) -> NDArray[np.generic]:
    array = np.asarray(column)
    if array.ndim != 1:
        raise ValueError(f"encode column {number} must have one dimension, got {array.ndim}")
    if array.dtype.kind == "f" and np.isnan(array).any():
        raise ValueError(f"encode column {number} must not contain missing values, got NaN")
    if array.dtype.kind == "O":
        if any(value is None for value in array):
            raise ValueError(f"encode column {number} must not contain missing values, got None")
        raise ValueError(f"encode column {number} must be all numbers or all text, got a mixture of objects")
    return array
