"""The tread: what is left, how fast it goes, and what ends a tire's life."""

import numpy as np

from fleet.science import doubt, life, remaining, shifted, spent, wear
from fleet.science.practice import practice
from tests.science.promises.limits import above_zero, at_least_zero
from tests.science.promises.row import Row

REAR = practice("track_day", "medium", "rear")
READ = {"distance_km": [0.0, 300.0, np.nan], "depth_mm": [5.2, 4.1, np.nan]}
BELIEF = wear.rate_prior(None, REAR)
TREAD = remaining.remaining_km(**READ, limit_mm=0.8, new_depth_mm=5.2, rate_prior=BELIEF)
LEGAL = remaining.remaining_km(**READ, limit_mm=1.6, new_depth_mm=5.2, rate_prior=BELIEF)
SEASON = wear.learn_rates(
    np.log([3.1, 4.2, 3.5, 2.9, 5.0, 3.8]),
    noise_sd=0.1,
    practice=REAR,
    product=[0, 1, 0, 1, 0, 1],
    track=[0, 0, 1, 1, 0, 1],
    rider=[0, 1, 2, 0, 1, 2],
)


READINGS = (
    ("distance_km", [0.0, -1.0, np.nan], "at least 0, not -1"),
    ("depth_mm", [5.2, -1.0, np.nan], "at least 0, not -1"),
)
SKEWED = {"mean": (900.0, 1200.0), "sd": (200.0, 300.0), "skewness": (1.0, -0.5)}
DAYS = {"day_km": (220.0, 180.0), "day_sd_km": (50.0, 0.0)}
CYCLES = {"cycles_used": (4.0, 20.0), "cycles_per_day": (2.0, 3.0)}

ROWS = [
    Row(shifted.sigma_of_skewness, {"skewness": (1.0, -0.5)}, free=("skewness",), endless=("skewness",)),
    Row(
        shifted.quantile,
        {"prob": (0.1, 0.9), **SKEWED},
        refused=(
            ("prob", -0.1, "at least 0, not -0.1"),
            ("prob", 1.5, "at most 1, not 1.5"),
            *at_least_zero("sd"),
        ),
        free=("mean", "skewness"),
    ),
    Row(
        shifted.chance_below,
        {"value": (700.0, 1500.0), **SKEWED},
        refused=at_least_zero("sd"),
        free=("value", "mean", "skewness"),
    ),
    Row(shifted.prepared, SKEWED, refused=at_least_zero("sd"), free=("mean", "skewness")),
    Row(
        remaining.remaining_km,
        {
            "limit_mm": (0.8, 1.6),
            "new_depth_mm": (5.2, 4.5),
            "gauge_sd_mm": (0.2, 0.1),
            "new_depth_sd_mm": (0.3, 0.2),
            "now_km": (300.0, 500.0),
            "within_km": (0.0, 200.0),
        },
        {
            **READ,
            "rate_prior": BELIEF,
            "probs": (0.1, 0.5, 0.9),
            "bend_sd": 0.3,
            "day_spread": 0.2,
            "allow_misfit": True,
        },
        refused=(
            *READINGS,
            ("limit_mm", -0.1, "at least 0, not -0.1"),
            ("limit_mm", 5.5, "new_depth_mm less limit_mm must be above 0, not -0.3"),
            ("new_depth_mm", 0.7, "new_depth_mm less limit_mm must be above 0, not -0.1"),
            *above_zero("gauge_sd_mm", "new_depth_sd_mm"),
            *at_least_zero("now_km", "within_km", "bend_sd", "day_spread"),
            ("probs", (0.5, 1.5), "at most 1, not 1.5"),
        ),
        kinds={"probs": tuple, "readings": np.int64},
    ),
    Row(
        doubt.doubtful_readings,
        given={"gauge_sd_mm": 0.2, "limit_sds": 4.0, **READ},
        refused=(*READINGS, *above_zero("gauge_sd_mm", "limit_sds")),
        kinds={"": np.bool_},
        whole="a reading is judged by its neighbors",
    ),
    Row(
        doubt.row_median,
        given={"values": [[3.0, 1.0, np.nan], [np.nan, np.nan, np.nan]]},
        free=("values",),
        whole="one number of each row",
    ),
    Row(
        wear.severity_km,
        {
            "distance_km": (100.0, 250.0),
            "track_multiplier": (1.0, 1.3),
            "effort": (1.0, 0.85),
            "on_road": (False, True),
            "effort_exponent": (3.0, 2.0),
            "road_weight": (0.1, 0.2),
        },
        refused=(
            *at_least_zero("distance_km", "effort_exponent", "road_weight"),
            *above_zero("track_multiplier", "effort"),
            ("effort", 85.0, "at most 1.2, not 85"),
        ),
        nan_means={"effort": "usual", "road_weight": "not asked for on a track"},
    ),
    Row(
        wear.rates,
        given={
            "distance_km": [500.0, 300.0],
            "worn_mm": [1.8, 1.1],
            "noise_sd_mm": [0.3, 0.2],
            "usual_mm_per_1000km": 3.4,
            "times_noise": 3.0,
        },
        refused=(
            ("distance_km", [500.0, -1.0], "at least 0, not -1"),
            *above_zero("noise_sd_mm", "usual_mm_per_1000km", "times_noise"),
        ),
        free=("worn_mm",),
        kinds={"place": np.int64},
        whole="as many rates as stretches tell one",
    ),
    Row(
        wear.rate_prior,
        {"product": (0, -1), "track": (0, 1), "rider": (2, -1)},
        {"pooled": SEASON, "practice": REAR},
        refused=tuple(
            (name, -2, "a code from 0, or -1 for one never seen; got -2")
            for name in ("product", "track", "rider")
        ),
        kinds={"readings": np.int64},
    ),
    Row(wear.track_multipliers, given={"pooled": SEASON}, whole="one number per track of a fit"),
    Row(
        spent.day_distance,
        {"days": (1.0, 4.5), **DAYS},
        refused=(*at_least_zero("days", "day_sd_km"), *above_zero("day_km")),
    ),
    Row(
        spent.tread_chance,
        {"days": (1.0, 4.5), **DAYS},
        {"tread": TREAD},
        refused=(*at_least_zero("days", "day_sd_km"), *above_zero("day_km")),
    ),
    Row(
        spent.cycles_chance,
        {"days": (1.0, 4.5), **CYCLES, "guideline": (30.0, 10.0)},
        refused=(*at_least_zero("days", *CYCLES), *above_zero("guideline")),
    ),
    Row(
        life.assess,
        {
            **DAYS,
            **CYCLES,
            "cycle_guideline": (30.0, 40.0),
            "age_years": (1.5, 9.5),
            "years_to_next_day": (0.0, 0.2),
            "riding_days_per_year": (12.0, 5.0),
            "is_in_service": (True, False),
            "is_scrubbed_in": (True, False),
            "is_on_hold": (False, True),
            "is_damaged": (False, True),
            "is_read_worn": (False, True),
        },
        {"tread": TREAD, "legal_tread": LEGAL},
        refused=(
            *above_zero("day_km", "cycle_guideline", "riding_days_per_year"),
            *at_least_zero("day_sd_km", *CYCLES, "age_years", "years_to_next_day"),
        ),
        nan_means={
            "cycle_guideline": "none applies",
            "age_years": "not known, does not bind",
            "years_to_next_day": "not known, does not bind",
            "riding_days_per_year": "age is left out until it is reached",
        },
        kinds={"binding_limit": np.str_, "state": np.str_},
    ),
]

EXEMPT = {
    "remaining.binding_zone": "the place of one zone, of a Remaining that was checked when made",
    "spent.ready": "a Remaining that was checked when made, in another form",
    "wear.learning_prior": "a belief, checked by Prior itself",
    "wear.learn_rates": "one fit of all rows; its codes and lengths are refused by pooling.fit",
}

INNER = {"tread_posterior": "the numerics of remaining_km, which checks what goes in"}
