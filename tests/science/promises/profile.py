"""The outline of a tread across the tire."""

import numpy as np

from fleet.science import profile
from tests.science.promises.limits import above_zero
from tests.science.promises.row import Row

SIDE = profile.Side(95.0, 60.0, 25.0, 50.0, 2.0, 3.0)
ACROSS = np.linspace(-60.0, 60.0, 25)
POINTS = {"x_mm": ACROSS, "z_mm": np.sqrt(95.0**2 - ACROSS**2) + 0.05 * np.cos(7.0 * ACROSS)}
PROFILE = profile.fit_profile(**POINTS)
WRONG_POINTS = tuple((name, np.append(ACROSS[1:], np.inf), "finite, not inf") for name in POINTS)
LEAN = {"lean_deg": (45.0, 20.0)}
NO_LEAN = (("lean_deg", -1.0, "at least 0, not -1"), ("lean_deg", 91.0, "at most 90, not 91"))

ROWS = [
    Row(
        profile.fit_circle,
        given=POINTS,
        refused=WRONG_POINTS,
        whole="one circle of all points",
    ),
    Row(
        profile.fit_profile,
        given={**POINTS, "gauge_sd_mm": 0.1},
        refused=(*WRONG_POINTS, *above_zero("gauge_sd_mm")),
        whole="one profile of all points",
    ),
    Row(
        profile.lay_over,
        given={"before": PROFILE, "after": PROFILE, "steps": 20},
        refused=(("steps", 0, "at least 1, not 0"),),
        kinds={"crown": str},
        whole="one comparison of two profiles",
    ),
    Row(profile.touching, LEAN, {"side": SIDE}, refused=NO_LEAN),
    Row(
        profile.height_mm,
        {"across_mm": (30.0, 50.0)},
        {"side": SIDE},
        refused=(("across_mm", -1.0, "at least 0, not -1"),),
    ),
    Row(
        profile.tread_shift_mm,
        {"crown_radius_mm": (95.0, 60.0), **LEAN},
        refused=(*above_zero("crown_radius_mm"), *NO_LEAN),
    ),
    Row(
        profile.rolling_radius_at_lean_mm,
        {"radius_mm": (315.0, 300.0), "crown_radius_mm": (95.0, 60.0), **LEAN},
        refused=(
            *above_zero("radius_mm", "crown_radius_mm"),
            ("crown_radius_mm", 320.0, "radius_mm less crown_radius_mm must be above 0, not -5"),
            *NO_LEAN,
        ),
    ),
    Row(
        profile.extra_lean_deg,
        {"crown_radius_mm": (70.0, 95.0), "cg_height_mm": (600.0, 650.0), **LEAN},
        refused=(
            *above_zero("crown_radius_mm", "cg_height_mm"),
            ("cg_height_mm", 130.0, "cg_height_mm less twice crown_radius_mm must be at least 0, not -10"),
            *NO_LEAN,
        ),
    ),
]

EXEMPT: dict[str, str] = {}

INNER = {
    "profile.circle.usable": "the check of points that fit_circle and fit_profile share",
    "profile.curve.distance_mm": "terms of fit_profile",
    "profile.curve.normal_rad": "terms of fit_profile",
    "profile.trial": "candidates of fit_profile, which checks what goes in",
}
