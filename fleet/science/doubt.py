"""Find depth readings that their neighbors contradict: a slip of the gauge, a mix-up of zones, a wrong tire."""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

Array = NDArray[np.float64]

NOISE_LIMIT: Final = 4.0
"""Standard deviations beyond which a reading is doubted; one honest reading in sixteen thousand is."""

_TIE_MM: Final = 1e-9


def doubtful_readings(
    distance_km: ArrayLike,
    depth_mm: ArrayLike,
    *,
    gauge_sd_mm: ArrayLike,
    limit_sds: float = NOISE_LIMIT,
) -> NDArray[np.bool_]:
    """Return which readings jump beyond noise, in the order given.

    Two tests: a rise from one reading to the next, and a departure from the straight line between the readings
    before and after. Of the readings involved the one furthest from the robust line through all (median of
    pairwise slopes [Sen1968]) is doubted, the later one where they are equally far.

    Parameters
    ----------
    distance_km, depth_mm : array_like, shape (..., readings)
        In any order; NaN is padding and never doubtful.
    gauge_sd_mm : array_like, shape (...)
        Standard deviation of one reading in mm, above 0.
    limit_sds : float
        How many standard deviations count as noise.

    Raises
    ------
    ValueError
        If a distance or depth is negative or a standard deviation is not above 0.
    """
    x, y = np.broadcast_arrays(
        within("distance_km", distance_km, at_least=0.0), within("depth_mm", depth_mm, at_least=0.0)
    )
    noise = within("gauge_sd_mm", gauge_sd_mm, above=0.0)[..., None] * within(
        "limit_sds", limit_sds, above=0.0
    )
    missing = np.isnan(x) | np.isnan(y)
    order = np.argsort(np.where(missing, np.inf, x), axis=-1, kind="stable")
    x = np.take_along_axis(np.where(missing, np.nan, x), order, axis=-1)
    y = np.take_along_axis(np.where(missing, np.nan, y), order, axis=-1)
    off = np.abs(_residuals(x, y))
    doubtful = _departs(x, y, off, noise)
    rise = np.diff(y, axis=-1) > noise * np.sqrt(2.0)
    later_is_worse = off[..., 1:] >= off[..., :-1] - _TIE_MM
    doubtful[..., 1:] |= rise & later_is_worse
    doubtful[..., :-1] |= rise & ~later_is_worse
    result = np.zeros(doubtful.shape, dtype=np.bool_)
    np.put_along_axis(result, order, doubtful, axis=-1)
    return result


def _residuals(x: Array, y: Array) -> Array:
    """Return the distance of every reading from the line through the median slope and the median level."""
    first, second = np.triu_indices(x.shape[-1], k=1)
    run = x[..., second] - x[..., first]
    fall = y[..., second] - y[..., first]
    slopes = np.divide(fall, run, out=np.full(run.shape, np.nan), where=run > 0)
    slope = np.where(np.isfinite(slopes).any(axis=-1), row_median(slopes), 0.0)
    level = y - np.minimum(slope, 0.0)[..., None] * x
    return np.asarray(level - row_median(level)[..., None], dtype=np.float64)


def _departs(x: Array, y: Array, off: Array, noise: Array) -> NDArray[np.bool_]:
    """Return which readings leave the line between their neighbors by more than noise and are the worst of three."""
    found = np.zeros(np.broadcast_shapes(y.shape, noise.shape), dtype=np.bool_)
    run = x[..., 2:] - x[..., :-2]
    share = np.divide(x[..., 1:-1] - x[..., :-2], run, out=np.full(run.shape, 0.5), where=run > 0)
    expected = y[..., :-2] + share * (y[..., 2:] - y[..., :-2])
    spread = noise * np.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
    worst = off[..., 1:-1] >= np.maximum(off[..., :-2], off[..., 2:]) - _TIE_MM
    found[..., 1:-1] = (np.abs(y[..., 1:-1] - expected) > spread) & worst
    return found


def row_median(values: ArrayLike) -> Array:
    """Return the median along the last axis without the NaNs; NaN where nothing is left."""
    ordered = np.sort(np.asarray(values, dtype=np.float64), axis=-1)
    if ordered.shape[-1] == 0:
        return np.full(ordered.shape[:-1], np.nan)
    count = np.isfinite(ordered).sum(axis=-1)
    low = np.maximum(count - 1, 0) // 2
    high = np.minimum(count // 2, ordered.shape[-1] - 1)
    picked = [np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0] for place in (low, high)]
    return np.where(count > 0, 0.5 * (picked[0] + picked[1]), np.nan)
