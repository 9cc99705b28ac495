"""Lives of products, demand of an event, and advice: answers about many sets, riders or notes at once."""

import numpy as np

from fleet.science import advice, demand, product_life, track_wear
from tests.science.promises.limits import above_zero
from tests.science.promises.row import Row

SETS = {"durations": [6.0, 9.0, 10.0, 3.0], "is_worn": [True, False, True, True], "seen_from": 0.0}
LEVEL = (("level", 0.0, "between 0 and 1, not 0"), ("level", 1.0, "between 0 and 1, not 1"))
WATCHED = (
    *LEVEL,
    ("durations", [6.0, -9.0, 10.0, 3.0], "at least 0, not -9"),
    ("is_worn", [1, 0, 2, 1], "true or false, not 2"),
    ("seen_from", -1.0, "at least 0, not -1"),
    ("seen_from", 7.0, "at most the duration 6, not 7"),
)
PMF = [0.15, 0.37, 0.33, 0.13, 0.02]
NOT_WHOLE = (
    ("pmf", [0.5, 0.4], "add up to 1 in one dimension, not to 0.9"),
    ("pmf", [1.5, -0.5], "at least 0, not -0.5"),
)
CHANCES = (
    ("chances", [0.1, 1.2, 0.3], "at most 1, not 1.2"),
    ("chances", [0.1, -0.2, 0.3], "at least 0, not -0.2"),
    ("chances", [0.1, np.nan, 0.3], "known in one dimension, not 1 missing"),
    ("common_sd", -0.1, "at least 0, not -0.1"),
    ("common_sd", 6.0, "at most 5, not 6"),
)
TIRE = {
    "lower_kpa": 150.0,
    "upper_kpa": 270.0,
    "step_kpa": 2.0,
    "gauge_offset_kpa": 1.0,
    "start_kpa": 190.0,
    "start_c": 22.0,
    "hot_kpa": 232.0,
    "hot_target_kpa": 220.0,
    "barometer_kpa": 101.3,
}
BELIEF = {"shape": 3.0, "shape_log_sd": 0.5, "median": 8.0, "median_log_sd": 0.5}


def with_belief(shape, shape_log_sd, median, median_log_sd, **sets):
    prior = product_life.LifePrior(shape, shape_log_sd, median, median_log_sd)
    return product_life.weibull_life(**sets, prior=prior)


def of_stock(function):
    return Row(
        function,
        {"stock": (2.0, 4.0)},
        {"pmf": PMF},
        refused=(*NOT_WHOLE, ("stock", -1.0, "at least 0, not -1")),
    )


def with_front(**figures):
    front, rear = advice.Tire(**figures), advice.Tire(**{**TIRE, "hot_kpa": 221.0})
    return advice.suggest(front, rear, ())


ROWS = [
    Row(
        product_life.survival_curve,
        given={**SETS, "transform": "log-log", "level": 0.95},
        refused=(*WATCHED, ("transform", "plain", "log-log or log, not plain")),
        kinds={"at_risk": np.int64, "worn": np.int64, "sets": int},
        whole="one curve of all sets",
    ),
    Row(
        product_life.weibull_life,
        given={**SETS, **BELIEF, "level": 0.95},
        refused=(*WATCHED, *((name, 0.0, "above 0, not 0") for name in BELIEF)),
        kinds={"worn": int, "sets": int, "is_too_few": bool},
        whole="one distribution of all sets",
        through=with_belief,
    ),
    Row(
        product_life.compare,
        given={**SETS, "is_second": [False, False, True, True], "horizon": 5.0, "level": 0.95},
        refused=(
            *WATCHED,
            ("is_second", [0, 0, 3, 1], "true or false, not 3"),
            ("horizon", 0.0, "above 0, not 0"),
            ("horizon", 20.0, "at most 9, not 20"),
        ),
        kinds={"worn": tuple, "expected": tuple},
        whole="one difference of all sets",
    ),
    Row(
        demand.demand_pmf,
        given={"chances": [0.1, 0.2, 0.3], "common_sd": 0.5},
        refused=CHANCES,
        whole="one distribution of all riders",
    ),
    Row(
        demand.demand_by_spec,
        given={"spec_codes": [4, 9, 4], "chances": [0.1, 0.2, 0.3], "common_sd": 0.0},
        refused=(*CHANCES, ("spec_codes", [4, 9], "one for each of (3,) chances")),
        kinds={"": dict},
        whole="one distribution of all riders per spec",
    ),
    Row(demand.demand_mean, given={"pmf": PMF}, refused=NOT_WHOLE, whole="one number of a distribution"),
    Row(demand.demand_sd, given={"pmf": PMF}, refused=NOT_WHOLE, whole="one number of a distribution"),
    Row(
        demand.stock_for_service,
        {"service_level": (0.5, 0.95)},
        {"pmf": PMF},
        refused=(
            *NOT_WHOLE,
            ("service_level", -0.1, "at least 0, not -0.1"),
            ("service_level", 1.1, "at most 1, not 1.1"),
            ("service_level", np.nan, "must be known, not nan"),
        ),
        kinds={"": np.int64},
    ),
    Row(
        demand.critical_ratio,
        {"under_cost": (80.0, 10.0), "over_cost": (20.0, 0.0)},
        refused=(("under_cost", 0.0, "above 0, not 0"), ("over_cost", -1.0, "at least 0, not -1")),
    ),
    Row(
        demand.stock_for_cost,
        {"under_cost": (80.0, 10.0), "over_cost": (20.0, 30.0)},
        {"pmf": PMF},
        refused=(
            *NOT_WHOLE,
            ("under_cost", 0.0, "above 0, not 0"),
            ("over_cost", -1.0, "at least 0, not -1"),
            ("under_cost", np.nan, "must be known, not nan"),
            ("over_cost", np.nan, "must be known, not nan"),
        ),
        kinds={"": np.int64},
    ),
    of_stock(demand.expected_shortage),
    of_stock(demand.expected_leftover),
    of_stock(demand.fill_rate),
    Row(
        track_wear.wear_by_track,
        given={
            "run_km": [100.0, 80.0, 120.0],
            "run_track": ["hill", "lake", "hill"],
            "runs_before": [1, 2, 3],
            "depth_mm": [4.8, 4.5, 4.1],
            "new_depth_mm": 5.2,
            "gauge_sd_mm": 0.2,
            "new_depth_sd_mm": 0.3,
        },
        refused=(
            ("run_km", [100.0, -80.0, 120.0], "at least 0, not -80"),
            ("depth_mm", [4.8, -4.5, 4.1], "at least 0, not -4.5"),
            *above_zero("new_depth_mm", "gauge_sd_mm", "new_depth_sd_mm"),
            ("runs_before", [2, 1, 3], "at least 2 here, in the readings' order, not 1"),
        ),
        kinds={"": dict},
        whole="what each track took from one tire",
    ),
    Row(
        track_wear.worst_zone,
        given={"distance_km": [0.0, 300.0], "depth_mm": [[5.2, 4.1], [5.1, 4.4]], "new_depth_mm": 5.2},
        refused=(
            ("distance_km", [0.0, -1.0], "at least 0, not -1"),
            ("depth_mm", [[5.2, -1.0]], "at least 0, not -1"),
            *above_zero("new_depth_mm"),
        ),
        kinds={"": int},
        whole="the place of one zone",
    ),
    Row(
        advice.suggest,
        given=TIRE,
        refused=(
            ("lower_kpa", 0.0, "above 0, not 0"),
            ("upper_kpa", 140.0, "upper_kpa less lower_kpa must be at least 0, not -10"),
            ("step_kpa", 0.0, "above 0, not 0"),
            ("gauge_offset_kpa", np.nan, "must be known, not NaN"),
            ("start_kpa", 0.0, "above 0, not 0"),
            ("hot_kpa", 0.0, "above 0, not 0"),
            ("hot_target_kpa", 0.0, "above 0, not 0"),
            ("start_c", -280.0, "above -273.15, not -280"),
            ("barometer_kpa", 1013.0, "at most 110, not 1013"),
        ),
        kinds={"": advice.Suggestion},
        whole="one change for one bike",
        through=with_front,
    ),
]

EXEMPT: dict[str, str] = {}

INNER = {
    "advice.signs": "rules over words; unknown ones are refused, see test_advice",
    "advice.suggestion.room": "gauge steps of a tire that was checked when made",
    "product_life.lives": "checks and terms of the three functions above, whose rows show its refusals",
    "product_life.likelihood": "the numerics of weibull_life, which checks what goes in",
    "product_life.survival.curve": "a part of survival_curve, which checks what goes in",
    "product_life.survival.hazard_variance": "terms of a curve whose sets were checked",
}
