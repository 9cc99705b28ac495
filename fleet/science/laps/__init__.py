"""Judge laps: how consistent one run is, and whether two runs differ.

Ranks and medians throughout, since one lap in traffic must not decide; least squares only to tell a shift from a drift.
"""

from fleet.science.laps.comparison import (
    CAUSE_OPEN,
    DIFFERENT,
    NOT_TOLD_APART,
    VERDICTS,
    Comparison,
    Difference,
    compare,
    there_and_back,
)
from fleet.science.laps.runs import LAPS_OF_A_RUN, Consistency, Doubt, SetAside, consistency, robust_sd
from fleet.science.ranks import Estimate

__all__ = [
    "CAUSE_OPEN",
    "DIFFERENT",
    "LAPS_OF_A_RUN",
    "NOT_TOLD_APART",
    "VERDICTS",
    "Comparison",
    "Consistency",
    "Difference",
    "Doubt",
    "Estimate",
    "SetAside",
    "compare",
    "consistency",
    "robust_sd",
    "there_and_back",
]
