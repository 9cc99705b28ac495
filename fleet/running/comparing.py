"""Bridge from the lap times of two stints to whether they can be told apart."""

from dataclasses import dataclass

import numpy as np

from fleet.running.models import Stint
from fleet.science.laps import compare

FEWEST_LAPS = 3  # common practice, no published source: fewer say nothing whatever they are
MINUTE_S = 60.0


@dataclass(frozen=True)
class LapsCompared:
    """What the laps of two stints tell about each other; below 0 the later stint was quicker."""

    verdict: str
    shift_s: float
    low_s: float
    high_s: float
    laps: tuple[int, int]
    doubts: tuple[str, ...]


def laps_compared(before: Stint, after: Stint, *, changes: int) -> LapsCompared | None:
    """Return whether the lap times of two stints differ and by how much a lap, or nothing where too few were noted."""
    if min(len(before.lap_times_s), len(after.lap_times_s)) < FEWEST_LAPS:
        return None
    if before.layout_id != after.layout_id:
        return None
    usual_s = float(np.median(before.lap_times_s))
    between_s = max((after.started_at - before.ended_at).total_seconds(), 0.0)
    found = compare(
        before.lap_times_s, after.lap_times_s, laps_between=between_s / usual_s, changes=max(changes, 1)
    )
    shift = found.plain.shift_s
    return LapsCompared(
        found.verdict,
        shift.value,
        shift.low,
        shift.high,
        (found.a.count, found.b.count),
        tuple(doubt.text for doubt in found.doubts),
    )
