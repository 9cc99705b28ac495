"""Say in plain words what two runs of laps cannot decide."""

from math import comb
from typing import Final

import numpy as np

from fleet.science.bounds import ABSOLUTE_ZERO_C, within
from fleet.science.laps.drift import Runs, neighbor_correlation
from fleet.science.laps.runs import Consistency, Doubt

TRACK_CHANGE_C: Final = 5.0
"""Change of track temperature between the runs that alone could move lap times (common practice, no published
source)."""

OTHER_CAUSES: Final = ("track_temperature_changed", "more_than_one_change")
"""Doubts that leave open what caused a difference, however clear it is."""

TRACK_DRIFT: Final = Doubt(
    "track_drift_could_explain",
    "The laps differ, but a track that changed steadily through both runs could do that too. "
    "Ride once more as in the first run: a difference that comes back is not the track's.",
)

_ALIKE_P: Final = 0.05


def few_laps(first: Consistency, second: Consistency, allowed: float) -> list[Doubt]:
    """Return what each run lacks, and whether so few laps could decide anything at the level allowed."""
    found = [
        Doubt(doubt.code, f"{which} run: {doubt.text}")
        for which, run in (("First", first), ("Second", second))
        for doubt in run.doubts
    ]
    least_p = min(1.0, 2.0 / comb(first.count + second.count, first.count))
    if least_p > allowed:
        found.append(
            Doubt(
                "cannot_decide",
                f"Even if every lap of one run beat every lap of the other, chance would do that in {least_p:.0%} "
                f"of cases with {first.count} and {second.count} laps: ride more laps.",
            )
        )
    return found


def drifts(first: Consistency, second: Consistency) -> list[Doubt]:
    """Return a doubt where a run drifts, with the rates of both."""
    clear = [run.drift_s.is_clear for run in (first, second)]
    if not any(clear):
        return []
    code = "both_runs_drift" if all(clear) else "one_run_drifts"
    rates = f"{first.drift_s.value:+.2f} s a lap in the first run, {second.drift_s.value:+.2f} in the second"
    return [Doubt(code, f"The laps drift: {rates}. What one lap is worth depends on when it was ridden.")]


def alike(runs: Runs, told: float) -> list[Doubt]:
    """Return a doubt where neighboring laps resemble each other more than was told."""
    seen, p_value = neighbor_correlation(runs)
    if not (p_value <= _ALIKE_P and seen > told):
        return []
    return [
        Doubt(
            "neighbors_alike",
            f"Neighboring laps resemble each other (correlation {seen:.2f}, taken to be {told:.2f}): they count for "
            "fewer laps than they are, and the intervals are too narrow.",
        )
    ]


def other_causes(track_c_a: float | None, track_c_b: float | None, changes: int) -> list[Doubt]:
    """Return what else than the tire is known to have changed; a temperature not given or NaN is not known."""
    found = []
    before, after = (
        np.nan if track_c is None else float(within(name, track_c, above=ABSOLUTE_ZERO_C))
        for name, track_c in (("track_c_a", track_c_a), ("track_c_b", track_c_b))
    )
    if abs(after - before) > TRACK_CHANGE_C:
        found.append(
            Doubt(
                "track_temperature_changed",
                "The track surface changed its temperature between the runs by so much that this alone can move lap "
                "times (common practice, no published source).",
            )
        )
    if changes > 1:
        found.append(
            Doubt(
                "more_than_one_change",
                f"{changes} things were changed between the runs: a difference cannot be put down to one of them.",
            )
        )
    return found
