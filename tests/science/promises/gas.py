"""The gas in the tire: pressure, temperature, heat cycles."""

from fleet.science import inflation, standing, thermal
from tests.science.promises.limits import above_zero, at_least_zero, barometer, not_too_cold
from tests.science.promises.row import Row

AROUND = {"barometer_kpa": (101.3, 84.6), "barometer_after_kpa": (100.9, 85.0)}
RELAXING = {"minutes": (20.0, 5.0), "time_constant_min": (6.0, 18.0)}
LATER = {
    "minutes_on_track": (20.0, 8.0),
    "minutes_since": (10.0, 40.0),
    "rise_sd_c": (9.0, 3.0),
    "time_constant_min": (6.0, 9.0),
    "cooling_constant_min": (18.0, 25.0),
    "constant_log_sd": (0.3, 0.1),
    "tire_sd_c": (2.0, 4.0),
}

ROWS = [
    Row(
        inflation.gauge_after_kpa,
        {
            "gauge_kpa": (200.0, 170.0),
            "from_c": (20.0, 35.0),
            "to_c": (80.0, -10.0),
            **AROUND,
            "free_water_g_per_l": (0.0, 0.05),
        },
        refused=(
            ("gauge_kpa", -101.4, "plus barometer must be above 0, not -0.1"),
            *not_too_cold("from_c", "to_c"),
            *barometer("barometer_kpa", "barometer_after_kpa"),
            ("free_water_g_per_l", -0.1, "at least 0, not -0.1"),
        ),
    ),
    Row(
        inflation.gas_temperature_c,
        {
            "start_gauge_kpa": (200.0, 170.0),
            "start_c": (20.0, 35.0),
            "end_gauge_kpa": (240.0, 150.0),
            **AROUND,
        },
        refused=(
            ("start_gauge_kpa", -101.4, "plus barometer must be above 0, not -0.1"),
            ("end_gauge_kpa", -101.4, "plus barometer must be above 0, not -0.5"),
            *not_too_cold("start_c"),
            *barometer("barometer_kpa", "barometer_after_kpa"),
        ),
    ),
    Row(
        inflation.start_gauge_kpa,
        {"hot_gauge_kpa": (230.0, 215.0), "hot_c": (60.0, 75.0), "start_c": (20.0, 42.0), **AROUND},
        refused=(
            ("hot_gauge_kpa", -101.4, "plus barometer must be above 0, not -0.5"),
            *not_too_cold("hot_c", "start_c"),
            *barometer("barometer_kpa", "barometer_after_kpa"),
        ),
    ),
    Row(
        inflation.slope_kpa_per_c,
        {"gauge_kpa": (200.0, 170.0), "temperature_c": (20.0, 35.0), "barometer_kpa": (101.3, 84.6)},
        refused=(
            ("gauge_kpa", -101.4, "plus barometer must be above 0, not -0.1"),
            *not_too_cold("temperature_c"),
            *barometer("barometer_kpa"),
        ),
    ),
    Row(
        inflation.corrected_kpa,
        {"reading_kpa": (200.0, 210.0), "gauge_offset_kpa": (3.0, -4.0)},
        free=("reading_kpa", "gauge_offset_kpa"),
    ),
    Row(
        inflation.as_read_kpa,
        {"true_kpa": (200.0, 210.0), "gauge_offset_kpa": (3.0, -4.0)},
        free=("true_kpa", "gauge_offset_kpa"),
    ),
    Row(
        thermal.relax_c,
        {"start_c": (20.0, 35.0), "toward_c": (80.0, 60.0), **RELAXING},
        refused=(
            *not_too_cold("start_c", "toward_c"),
            *at_least_zero("minutes"),
            *above_zero("time_constant_min"),
        ),
    ),
    Row(
        thermal.settled_c,
        {"start_c": (20.0, 35.0), "end_c": (70.0, 60.0), **RELAXING},
        refused=(
            *not_too_cold("start_c", "end_c"),
            *above_zero("minutes", "time_constant_min"),
        ),
    ),
    Row(
        thermal.at_pit_in_c,
        {
            "measured_c": (60.0, 50.0),
            "air_c": (20.0, 31.0),
            "minutes_since": (3.0, 10.0),
            "time_constant_min": (18.0, 25.0),
        },
        refused=(
            *not_too_cold("measured_c", "air_c"),
            *at_least_zero("minutes_since"),
            *above_zero("time_constant_min"),
        ),
    ),
    Row(
        thermal.time_constant_min,
        {
            "first_c": (80.0, 75.0),
            "second_c": (50.0, 45.0),
            "air_c": (20.0, 31.0),
            "minutes_between": (10.0, 7.0),
        },
        refused=(
            *not_too_cold("first_c", "second_c", "air_c"),
            ("second_c", 90.0, "between air_c and first_c, not 70 degrees over air after 60"),
            *above_zero("minutes_between"),
        ),
    ),
    Row(
        thermal.trace_c,
        given={"start_c": 20.0, "segments": [75.0, thermal.Segment(22.0, 10.0, 18.0)]},
        refused=(
            *not_too_cold("start_c"),
            ("segments", [75.0, -280.0], "above -273.15, not -280"),
        ),
        whole="one segment follows from the one before",
    ),
    Row(
        thermal.counted_cycles,
        given={"start_c": 20.0, "segments": [75.0, 30.0, 78.0], "working_c": 60.0, "cooled_c": 40.0},
        refused=(
            *not_too_cold("start_c"),
            ("segments", [75.0, -280.0], "above -273.15, not -280"),
            ("cooled_c", 70.0, "under working_c (60), not 70"),
            ("working_c", 30.0, "under working_c (30), not 40"),
        ),
        kinds={"0": int, "1": int},
        whole="places in one tire's series",
    ),
    Row(
        thermal.heat_cycles,
        given={"start_c": 20.0, "segments": [75.0, 30.0, 78.0], "working_c": 60.0, "cooled_c": 40.0},
        refused=(
            *not_too_cold("start_c"),
            ("segments", [75.0, -280.0], "above -273.15, not -280"),
            ("cooled_c", 70.0, "under working_c (60), not 70"),
            ("working_c", 30.0, "under working_c (30), not 40"),
        ),
        kinds={"": int},
        whole="a count over one tire's series",
    ),
    Row(
        standing.standing_tire,
        {"air_c": (20.0, 31.0), "rise_c": (40.0, 30.0), **LATER},
        refused=(
            *not_too_cold("air_c"),
            *above_zero("rise_c", "time_constant_min", "cooling_constant_min"),
            *at_least_zero("minutes_on_track", "minutes_since", "rise_sd_c", "constant_log_sd", "tire_sd_c"),
        ),
        nan_means={
            "minutes_on_track": "no stint: air temperature",
            "minutes_since": "no stint: air temperature",
        },
    ),
]

EXEMPT: dict[str, str] = {}
