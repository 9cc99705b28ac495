"""How hot a tire gets, what others reported, and what to set."""

import numpy as np

from fleet.science import heating, hot_target, observed_rise, reference_notes, start_pressure
from fleet.science.practice import practice
from tests.science.promises.limits import above_zero, at_least_zero, barometer, not_too_cold
from tests.science.promises.row import Row

REAR = practice("track_day", "medium", "rear")
SEASON = heating.learn(
    observed_rise.settled_rise_c(
        start_kpa=190.0,
        tire_c=24.0,
        hot_kpa=[221.0, 227.0, 224.0, 219.0, 230.0, 223.0],
        minutes_since_pit_in=3.0,
        minutes_on_track=18.0,
        barometer_kpa=101.3,
        air_c=22.0,
    ),
    practice=REAR,
    track_over_air_c=np.array([10.0, 15.0, 12.0, np.nan, 20.0, 8.0]),
    effort=np.full(6, 0.85),
    product=[0, 1, 0, 1, 0, 1],
    track=[0, 0, 1, 1, 0, 1],
    rider=[0, 1, 2, 0, 1, 2],
)
STINT = {
    "start_kpa": (190.0, 200.0),
    "tire_c": (25.0, 30.0),
    "hot_kpa": (230.0, 240.0),
    "minutes_since_pit_in": (3.0, 10.0),
    "minutes_on_track": (18.0, 9.0),
    "barometer_kpa": (101.3, 84.6),
    "barometer_when_hot_kpa": (101.0, 85.0),
    "air_c": (22.0, 31.0),
    "warmers_c": (80.0, 60.0),
    "time_constant_min": (6.0, 9.0),
    "cooling_constant_min": (18.0, 25.0),
    "gauge_sd_kpa": (1.5, 3.0),
    "tire_sd_c": (2.0, 4.0),
    "air_sd_c": (1.0, 2.0),
    "constant_log_sd": (0.3, 0.1),
}
PRACTICE = {
    "practice_hot_kpa": (216.0, 226.0),
    "practice_sd_kpa": (10.0, 8.0),
    "practice_rise_c": (40.0, 32.0),
    "practice_rise_sd_c": (9.0, 7.0),
}
MAKER = {
    "maker_hot_kpa": (235.0, 240.0),
    "maker_cold_kpa": (170.0, 180.0),
    "maker_cold_c": (20.0, 25.0),
    "maker_off_warmers_kpa": (210.0, 215.0),
    "maker_off_warmers_c": (80.0, 85.0),
}
NOTES = {"notes_hot_kpa": (220.0, 225.0), "notes_sd_kpa": (4.0, 5.0), "notes_used": (3, 5)}
REFERENCE_DAY = {"reference_air_c": 20.0, "barometer_kpa": 101.325}


ROWS = [
    Row(
        observed_rise.settled_rise_c,
        STINT,
        refused=(
            ("start_kpa", -101.4, "must be above 0, not -0.1"),
            ("hot_kpa", -101.4, "must be above 0, not -0.4"),
            *not_too_cold("tire_c", "air_c", "warmers_c"),
            *barometer("barometer_kpa", "barometer_when_hot_kpa"),
            *above_zero("minutes_on_track", "time_constant_min", "cooling_constant_min"),
            *at_least_zero(
                "minutes_since_pit_in", "gauge_sd_kpa", "tire_sd_c", "air_sd_c", "constant_log_sd"
            ),
        ),
        nan_means={"warmers_c": "no warmers: the tire's temperature"},
    ),
    Row(
        heating.unknown_effort_sd_c,
        {"effort": (0.85, 1.0)},
        {"slope_c": 20.0},
        free=("effort", "slope_c"),
        nan_means={"effort": "usual, with the spread told here"},
    ),
    Row(
        heating.expected_rise,
        {
            "track_over_air_c": (12.0, 20.0),
            "effort": (0.85, 1.0),
            "product": (0, -1),
            "track": (0, 1),
            "rider": (2, -1),
        },
        {"pooled": SEASON, "practice": REAR},
        refused=tuple(
            (name, -2, "a code from 0, or -1 for one never seen; got -2")
            for name in ("product", "track", "rider")
        ),
        free=("track_over_air_c", "effort"),
        nan_means={"track_over_air_c": "as usual", "effort": "as usual, with more spread"},
        kinds={"readings": np.int64, "on_track_min": float},
    ),
    Row(
        hot_target.needed_hot_kpa,
        PRACTICE,
        {**dict.fromkeys((*MAKER, *NOTES), np.nan), "maker_cold_c": 20.0, "notes_used": 0, **REFERENCE_DAY},
        refused=(
            *above_zero("practice_hot_kpa"),
            *at_least_zero("practice_sd_kpa", "practice_rise_sd_c"),
            ("practice_rise_c", -400.0, "above -273.15, not -380"),
        ),
        nan_means=dict.fromkeys(
            ("practice_rise_c", "practice_rise_sd_c"), "asked for only where a maker's cold pressure speaks"
        ),
        kinds={"basis": np.str_, "notes_used": np.int64},
    ),
    Row(
        hot_target.needed_hot_kpa,
        {**MAKER, **NOTES, "reference_air_c": (20.0, 25.0), "barometer_kpa": (101.325, 95.0)},
        {name: values[0] for name, values in PRACTICE.items()},
        refused=(
            *above_zero("maker_hot_kpa", "maker_cold_kpa", "maker_off_warmers_kpa", "notes_hot_kpa"),
            *at_least_zero("notes_sd_kpa", "notes_used"),
            *not_too_cold("maker_cold_c", "maker_off_warmers_c"),
            ("maker_off_warmers_c", np.nan, "must be given with maker_off_warmers_kpa, not NaN"),
            *not_too_cold("reference_air_c"),
            *barometer("barometer_kpa"),
        ),
        nan_means={
            **dict.fromkeys((*MAKER, *NOTES), "no such source: the next best speaks"),
            "reference_air_c": "asked for only where a maker's cold pressure speaks",
            "barometer_kpa": "asked for only where a maker's cold pressure speaks",
        },
        kinds={"basis": np.str_, "notes_used": np.int64},
    ),
    Row(
        start_pressure.start_pressure,
        {
            "target_kpa": (230.0, 220.0),
            "target_sd_kpa": (0.0, 6.0),
            "rise_mean_c": (34.0, 40.0),
            "rise_sd_c": (9.0, 5.0),
            "air_c": (22.0, 31.0),
            "tire_c": (24.0, 40.0),
            "barometer_kpa": (101.3, 95.0),
            "minutes_on_track": (20.0, 12.0),
            "time_constant_min": (6.0, 8.0),
            "barometer_when_hot_kpa": (101.0, 95.5),
            "lower_kpa": (160.0, 150.0),
            "upper_kpa": (260.0, 270.0),
            "step_kpa": (1.0, 3.5),
            "gauge_offset_kpa": (0.0, 4.0),
            "df": (np.inf, 5.0),
            "warmers_c": (80.0, 70.0),
            "air_sd_c": (0.0, 2.0),
            "tire_sd_c": (0.0, 2.0),
            "setting_sd_kpa": (0.0, 2.0),
        },
        {"level": 0.8},
        refused=(
            ("target_kpa", -101.4, "above 0, not -0.4"),
            *not_too_cold("tire_c", "air_c", "warmers_c"),
            *barometer("barometer_kpa", "barometer_when_hot_kpa"),
            ("rise_mean_c", -400.0, "above -273.15, not -378"),
            ("lower_kpa", 270.0, "upper_kpa less lower_kpa must be at least 0, not -10"),
            ("upper_kpa", 150.0, "upper_kpa less lower_kpa must be at least 0, not -10"),
            *above_zero("time_constant_min", "step_kpa", "df"),
            ("level", 1.0, "above 0 and below 1, not 1"),
            ("level", 0.0, "above 0 and below 1, not 0"),
            *at_least_zero(
                "target_sd_kpa", "rise_sd_c", "air_sd_c", "tire_sd_c", "setting_sd_kpa", "minutes_on_track"
            ),
        ),
        free=("gauge_offset_kpa",),
        endless=("df",),
        nan_means={"warmers_c": "not on warmers: the tire's temperature"},
        kinds={"limit": np.int64},
    ),
    Row(
        start_pressure.shown_kpa,
        {
            "start_kpa": (201.3, 171.2),
            "lower_kpa": (160.0, 150.0),
            "upper_kpa": (260.0, 270.0),
            "step_kpa": (1.0, 3.5),
            "gauge_offset_kpa": (0.0, 4.0),
        },
        refused=(
            ("lower_kpa", 270.0, "upper_kpa less lower_kpa must be at least 0, not -10"),
            ("upper_kpa", 150.0, "upper_kpa less lower_kpa must be at least 0, not -10"),
            *above_zero("step_kpa"),
        ),
        free=("start_kpa", "gauge_offset_kpa"),
    ),
    Row(
        start_pressure.rule_of_thumb_kpa,
        {"hot_kpa": (230.0, 215.0), "hot_c": (60.0, 75.0), "tire_c": (20.0, 42.0)},
        free=("hot_kpa", "hot_c", "tire_c"),
    ),
    Row(
        reference_notes.likeness,
        {
            "air_difference_c": (0.0, 8.0),
            "track_difference_c": (5.0, -3.0),
            "pace_difference": (0.0, 0.1),
            "age_days": (10.0, 900.0),
        },
        refused=at_least_zero("age_days"),
        free=("air_difference_c", "track_difference_c", "pace_difference"),
        nan_means=dict.fromkeys(
            ("air_difference_c", "track_difference_c", "pace_difference", "age_days"), "one scale away"
        ),
    ),
    Row(
        reference_notes.weighted_median,
        given={"values": [218.0, 222.0, 230.0], "weights": [1.0, 0.5, 1.0]},
        refused=(
            ("values", [], "at least one with a weight above 0, not none"),
            ("weights", [1.0, -0.5, 1.0], "at least 0, not -0.5"),
        ),
        whole="one number of all values",
    ),
    Row(
        reference_notes.huber_location,
        given={"values": [218.0, 222.0, 230.0], "weights": [1.0, 0.5, 1.0], "scale": 5.0, "k": 1.5},
        refused=(
            ("values", [], "at least one with a weight above 0, not none"),
            ("weights", [1.0, -0.5, 1.0], "at least 0, not -0.5"),
            *above_zero("scale", "k"),
        ),
        whole="one number of all values",
    ),
    Row(
        reference_notes.pool_reference_notes,
        given={"hot_kpa": [218.0, np.nan, 230.0], "likeness_of_each": [1.0, 0.5, 0.2]},
        refused=(
            ("hot_kpa", [0.0, 220.0, 230.0], "above 0, not 0"),
            ("likeness_of_each", [1.0, -0.5, 0.2], "at least 0, not -0.5"),
            ("likeness_of_each", [1.0, 1.5, 0.2], "at most 1, not 1.5"),
        ),
        kinds={"notes_used": int},
        whole="one pressure of all notes",
    ),
]

EXEMPT = {
    "heating.covariates": "a design matrix: one row per stint, NaN counts as usual; tested through learn",
    "heating.heating_prior": "a belief, checked by Prior itself",
    "heating.learn": "one fit of all rows; its codes and lengths are refused by pooling.fit",
}
