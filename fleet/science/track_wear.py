"""Split one tire's wear by the track it happened on, so that each track's severity can be learned."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fleet.science.bounds import within
from fleet.science.practice import DEPTH_GAUGE_SD_MM, NEW_DEPTH_SD_MM

MIXED: Final = ""
"""Name under which wear stands that happened on several tracks between two readings."""


@dataclass
class TrackWear:
    """What one track took: distance in km, depth in mm, and the variance of the latter by its readings in mm squared."""

    distance_km: float = 0.0
    worn_mm: float = 0.0
    variance_mm2: float = 0.0


def worst_zone(distance_km: ArrayLike, depth_mm: ArrayLike, new_depth_mm: float) -> int:
    """Return the place of the zone that wears fastest: the steepest straight line from the new depth, least squares.

    Taking the shallowest last reading instead would pick the luckiest noise.

    Parameters
    ----------
    distance_km, depth_mm : array_like, shape (zones, readings)
        Since new, in km, and read, in mm; NaN is padding. At least one reading of one zone.
    new_depth_mm : float
        Depth of the new tire, above 0.

    Raises
    ------
    ValueError
        If a distance or depth is negative, or the new depth not above 0.
    """
    x, y = np.broadcast_arrays(
        within("distance_km", distance_km, at_least=0.0), within("depth_mm", depth_mm, at_least=0.0)
    )
    seen = ~(np.isnan(x) | np.isnan(y))
    x = np.where(seen, x, 0.0)
    lost = np.where(seen, float(within("new_depth_mm", new_depth_mm, above=0.0)) - y, 0.0)
    square = np.square(x).sum(axis=-1)
    rate = np.divide((x * lost).sum(axis=-1), square, out=np.full(square.shape, -np.inf), where=square > 0.0)
    return int(rate.argmax())


def wear_by_track(
    run_km: ArrayLike,
    run_track: Sequence[Hashable],
    *,
    runs_before: ArrayLike,
    depth_mm: ArrayLike,
    new_depth_mm: float,
    gauge_sd_mm: float = DEPTH_GAUGE_SD_MM,
    new_depth_sd_mm: float = NEW_DEPTH_SD_MM,
) -> dict[Hashable, TrackWear]:
    """Return what each track took from one zone of a tire, read off the readings before and after it ran there.

    A stretch over several tracks stands under ``MIXED``. Where only the road was run, or nothing yet, the wear is no
    track's. Stretches on one track right after each other share a reading, whose noise then cancels.

    Parameters
    ----------
    run_km : array_like, shape (runs,)
        Severity km of each run with the track's own multiplier left out, at least 0.
    run_track : sequence, length (runs,)
        Name of each run's track; "" or None is the road.
    runs_before, depth_mm : array_like, shape (readings,)
        In order of time: how many runs had ended at each reading, and the depth read in mm, at least 0; a NaN is passed
        over.
    new_depth_mm, new_depth_sd_mm, gauge_sd_mm : float
        Depth of the new tire, its spread and that of one reading, in mm, above 0.

    Raises
    ------
    ValueError
        If a distance or depth is negative, a spread not above 0, or readings go back in time or beyond the runs.
    """
    total_km = np.concatenate([[0.0], np.cumsum(within("run_km", run_km, at_least=0.0))])
    depths = within("depth_mm", depth_mm, at_least=0.0)
    before_mm = float(within("new_depth_mm", new_depth_mm, above=0.0))
    noise = float(within("gauge_sd_mm", gauge_sd_mm, above=0.0)) ** 2
    before_noise = float(within("new_depth_sd_mm", new_depth_sd_mm, above=0.0)) ** 2
    found: dict[Hashable, TrackWear] = {}
    first, previous = 0, None
    for last, now_mm in zip(np.asarray(runs_before, dtype=np.intp).tolist(), depths.tolist(), strict=True):
        if last < first:
            raise ValueError(f"runs_before must be at least {first} here, in the readings' order, not {last}")
        if last >= len(total_km):
            raise ValueError(
                f"runs_before must be at most {len(total_km) - 1}, the number of runs, not {last}"
            )
        if np.isnan(now_mm):
            continue
        tracks = {track for track in run_track[first:last] if track not in {"", None}}
        stretch = None if not tracks else tracks.pop() if len(tracks) == 1 else MIXED
        if stretch is not None:
            wear = found.setdefault(stretch, TrackWear())
            wear.distance_km += float(total_km[last] - total_km[first])
            wear.worn_mm += before_mm - now_mm
            wear.variance_mm2 += 0.0 if stretch == previous else before_noise + noise
        before_mm, before_noise, first, previous = now_mm, noise, last, stretch
    return found
