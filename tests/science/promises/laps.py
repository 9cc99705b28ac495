"""Lap times and ranks: one answer for all values."""

import numpy as np

from fleet.science import laps, ranks
from fleet.science.laps import runs
from tests.science.promises.row import Row

RUN = [92.4, 91.8, 91.6, np.nan, 91.9, 91.7, 91.5]
OTHER = [91.9, 91.2, 91.1, 91.3, 91.0, 91.2, 91.4]
LEVEL = (
    ("level", 0.05, "at least 0.5 and below 1, not 0.05"),
    ("level", 1.0, "at least 0.5 and below 1, not 1"),
)

ROWS = [
    Row(
        ranks.theil_sen,
        given={"x": [1.0, 2.0, 3.0, 4.0], "y": [1.0, 1.5, np.nan, 2.0], "level": 0.95},
        refused=(
            *LEVEL,
            ("x", [1.0, 2.0, 3.0, np.inf], "finite, not inf"),
            ("y", [1.0, 2.0, np.inf, 2.0], "finite, not inf"),
        ),
        whole="one slope of all points",
    ),
    Row(
        ranks.shift,
        given={"a": RUN, "b": OTHER, "level": 0.95},
        refused=(*LEVEL, ("a", [92.0, np.inf], "finite, not inf"), ("b", [-np.inf], "finite, not -inf")),
        whole="one shift of all values",
    ),
    Row(
        ranks.rank_sum_p,
        given={"a": RUN, "b": OTHER, "most_exact": 60},
        refused=(("a", [92.0, np.inf], "finite, not inf"), ("b", [-np.inf], "finite, not -inf")),
        free=("most_exact",),
        whole="one chance of all values",
    ),
    Row(
        laps.consistency,
        given={
            "lap_times_s": RUN,
            "out_lap": True,
            "in_lap": False,
            "level": 0.95,
            "slow_sds": 3.5,
            "slow_share": 0.015,
        },
        refused=(
            *LEVEL,
            ("lap_times_s", [92.4, 0.0, 91.6], "above 0, not 0"),
            ("lap_times_s", [RUN], "one dimension, not 2"),
            ("slow_sds", -1.0, "at least 0, not -1"),
            ("slow_share", -0.1, "at least 0, not -0.1"),
        ),
        kinds={
            "lap": np.int64,
            "ridden": int,
            "set_aside": tuple,
            "doubts": tuple,
        },
        whole="what one run of laps tells",
    ),
    Row(
        runs.lap_times,
        given={"name": "times_s", "times_s": RUN},
        refused=(
            ("times_s", [92.4, 0.0, 91.6], "above 0, not 0"),
            ("times_s", [RUN], "one dimension, not 2"),
        ),
        whole="the times of one run",
    ),
    Row(
        laps.robust_sd,
        given={"values": RUN},
        refused=(("values", [91.0, np.inf], "finite, not inf"),),
        whole="one spread of all values",
    ),
    Row(
        laps.compare,
        given={
            "a": RUN,
            "b": OTHER,
            "level": 0.95,
            "laps_between": 3.0,
            "lap_correlation": 0.1,
            "track_c_a": 30.0,
            "track_c_b": 33.0,
            "changes": 1,
        },
        refused=(
            *LEVEL,
            ("a", [92.4, 0.0, 91.6], "above 0, not 0"),
            ("b", [92.4, 0.0, 91.6], "above 0, not 0"),
            ("b", [OTHER], "one dimension, not 2"),
            ("laps_between", -1.0, "at least 0, not -1"),
            ("lap_correlation", -0.1, "at least 0, not -0.1"),
            ("lap_correlation", 1.0, "at most 0.99, not 1"),
            ("track_c_a", -280.0, "above -273.15, not -280"),
            ("track_c_b", -280.0, "above -273.15, not -280"),
            ("changes", -1, "at least 0, not -1"),
        ),
        kinds={
            "verdict": str,
            "doubts": tuple,
            "a": laps.Consistency,
            "b": laps.Consistency,
        },
        whole="what two runs of laps tell",
    ),
]

EXEMPT = {
    "laps.comparison.there_and_back": "a word about two comparisons that were checked when made",
}

INNER = {
    "laps.doubts": "sentences about runs that were checked when made; refusals are compare's",
    "laps.drift": "the algebra of compare, which checks what goes in",
}
