"""The chassis on its tires, and what turns with the wheels."""

import numpy as np

from fleet.science import geometry, rolling
from fleet.science.geometry import chassis as stance
from tests.science.promises.limits import above_zero
from tests.science.promises.row import Row

CHASSIS = {
    "rake_deg": (24.0, 23.5),
    "fork_offset_mm": (30.0, 28.0),
    "wheelbase_mm": (1400.0, 1380.0),
    "front_radius_mm": (300.0, 298.0),
    "rear_radius_mm": (315.0, 320.0),
}
IMPOSSIBLE = (
    ("rake_deg", -1.0, "at least 0, not -1"),
    ("rake_deg", 61.0, "at most 60, not 61"),
    ("fork_offset_mm", -251.0, "at least -250, not -251"),
    ("fork_offset_mm", 251.0, "at most 250, not 251"),
    ("wheelbase_mm", 0.0, "above 0, not 0"),
    ("wheelbase_mm", 610.0, "less both radii must be above 0, not -5"),
    ("front_radius_mm", 0.0, "above 0, not 0"),
    ("rear_radius_mm", 0.0, "above 0, not 0"),
)
CHANGES = {"front_change_mm": (5.0, -3.0), "rear_change_mm": (0.0, 4.0)}
SPROCKETS = rolling.Sprockets(16, 42)


def endless(*names):
    return tuple((name, np.inf, "finite, not inf") for name in names)


def of_chassis(function, *asked_for):
    """Return the row of a function of one chassis, which asks for some of its figures."""
    return Row(
        function,
        {name: values for name, values in CHASSIS.items() if name in asked_for},
        {name: values[0] for name, values in CHASSIS.items() if name not in asked_for},
        refused=IMPOSSIBLE,
        through=lambda **figures: function(geometry.Chassis(**figures)),
    )


def on_new_tires(front_change_mm, rear_change_mm, **figures):
    return geometry.after_tires(geometry.Chassis(**figures), front_change_mm, rear_change_mm)


def brought_back(front_change_mm, rear_change_mm, adjuster, travel_mm, **figures):
    before = geometry.Chassis(**figures)
    after = geometry.after_tires(before, front_change_mm, rear_change_mm).chassis
    return geometry.restore(before, after, adjuster, travel_mm=travel_mm)


def moved(fork_up_mm, rear_up_mm, **figures):
    after = geometry.adjusted(geometry.Chassis(**figures), fork_up_mm, rear_up_mm)
    return after.rake_deg, after.wheelbase_mm


ROWS = [
    of_chassis(stance.normal_trail_mm, "rake_deg", "fork_offset_mm", "front_radius_mm"),
    of_chassis(stance.trail_mm, "rake_deg", "fork_offset_mm", "front_radius_mm"),
    of_chassis(stance.axle_line_mm, "wheelbase_mm", "front_radius_mm", "rear_radius_mm"),
    of_chassis(stance.axle_line_rad, "wheelbase_mm", "front_radius_mm", "rear_radius_mm"),
    of_chassis(stance.axle_drop_mm, "front_radius_mm", "rear_radius_mm"),
    Row(
        geometry.after_tires,
        {**CHASSIS, **CHANGES},
        refused=(*IMPOSSIBLE, *endless(*CHANGES)),
        kinds={"chassis": geometry.Chassis},
        through=on_new_tires,
    ),
    Row(
        geometry.adjusted,
        {**CHASSIS, "fork_up_mm": (4.0, 0.0), "rear_up_mm": (0.0, 6.0)},
        nan_means={"fork_offset_mm": "stays as it is"},
        refused=(*IMPOSSIBLE, *endless("fork_up_mm", "rear_up_mm")),
        through=moved,
    ),
    *(
        Row(
            geometry.restore,
            {**CHASSIS, **CHANGES},
            {"adjuster": adjuster, "travel_mm": (-10.0, 6.0)},
            refused=(
                *IMPOSSIBLE,
                *endless(*CHANGES),
                ("adjuster", "seat", "fork or rear, not 'seat'"),
                ("travel_mm", (5.0, -5.0), "at least 0, not -10"),
                ("travel_mm", (-np.inf, 5.0), "finite, not -inf"),
            ),
            kinds={"adjuster": str, "left.chassis": geometry.Chassis},
            through=brought_back,
        )
        for adjuster in ("fork", "rear")
    ),
    Row(
        geometry.from_rollout,
        {"before_mm": (1900.0, 1880.0), "after_mm": (1930.0, 1890.0), "reading_sd_mm": (3.0, 2.0)},
        refused=above_zero("before_mm", "after_mm", "reading_sd_mm"),
    ),
    Row(
        geometry.from_gap,
        {"before_mm": (12.0, 20.0), "after_mm": (9.0, 15.0), "reading_sd_mm": (0.5, 1.0)},
        refused=(
            ("before_mm", -1.0, "at least 0, not -1"),
            ("after_mm", -1.0, "at least 0, not -1"),
            *above_zero("reading_sd_mm"),
        ),
    ),
    Row(
        geometry.from_sizes,
        {"radius_sd_mm": (3.0, 2.0)},
        {"before": "180/55 ZR17", "after": "190/55 ZR17"},
        refused=above_zero("radius_sd_mm"),
    ),
    Row(
        rolling.rolling_radius_mm,
        {"free_radius_mm": (300.0, 315.0), "deflection_mm": (12.0, 15.0)},
        refused=(
            *above_zero("free_radius_mm"),
            ("deflection_mm", -1.0, "at least 0, not -1"),
            ("deflection_mm", 310.0, "free_radius_mm less deflection_mm must be above 0, not -10"),
        ),
    ),
    Row(rolling.radius_from_rollout_mm, {"rollout_mm": (1900.0, 1980.0)}, refused=above_zero("rollout_mm")),
    Row(
        rolling.ratio_change,
        {
            "front_before_mm": (296.0, 298.0),
            "rear_before_mm": (310.0, 312.0),
            "front_after_mm": (297.0, 300.0),
            "rear_after_mm": (316.0, 309.0),
        },
        {"relearn_percent": 1.5},
        refused=above_zero(
            "front_before_mm", "rear_before_mm", "front_after_mm", "rear_after_mm", "relearn_percent"
        ),
        kinds={"may_need_relearning": np.bool_},
    ),
    Row(
        rolling.gearing_change_percent,
        {"rear_before_mm": (310.0, 312.0), "rear_after_mm": (316.0, 309.0)},
        {"sprockets_before": SPROCKETS, "sprockets_after": rolling.Sprockets(15, 42)},
        refused=(
            *above_zero("rear_before_mm", "rear_after_mm"),
            ("sprockets_after", None, "both or not at all, not one of them"),
        ),
    ),
    Row(
        rolling.nearest_sprockets,
        given={
            "present": SPROCKETS,
            "rear_before_mm": 310.0,
            "rear_after_mm": 316.0,
            "front_span": 1,
            "rear_span": 3,
            "choices": 2,
        },
        refused=(
            *above_zero("rear_before_mm", "rear_after_mm"),
            ("rear_after_mm", np.nan, "numbers, not nan"),
            ("front_span", -1, "at least 0, not -1"),
            ("rear_span", 21, "at most 20, not 21"),
            ("choices", 0, "at least 1, not 0"),
        ),
        kinds={"0": rolling.SprocketChoice, "1": rolling.SprocketChoice},
        whole="a choice for one bike",
    ),
    Row(
        rolling.road_speed_kmh,
        {"engine_rpm": (0.0, 9000.0), "rear_radius_mm": (310.0, 316.0), "total_reduction": (6.5, 5.9)},
        refused=(
            ("engine_rpm", -1.0, "at least 0, not -1"),
            *above_zero("rear_radius_mm", "total_reduction"),
        ),
    ),
]

EXEMPT = {
    "geometry.radius_change.combined": "one number of several measurements, NaN is one not taken; see test_geometry",
}

INNER = {
    "geometry.chassis.floats": "figures of a chassis that was checked when made",
    "geometry.chassis.shift": "two chassis that were checked when made; after_tires and restore show its parts",
}
