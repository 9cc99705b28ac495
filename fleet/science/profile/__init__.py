"""The outline of a tread across the tire, measured with a contour gauge, and what it does at lean."""

from fleet.science.profile.circle import Circle, fit_circle
from fleet.science.profile.curve import Side, Touching, height_mm, touching
from fleet.science.profile.fitting import GAUGE_SD_MM, Profile, fit_profile
from fleet.science.profile.lean import extra_lean_deg, rolling_radius_at_lean_mm, tread_shift_mm
from fleet.science.profile.overlay import Overlay, lay_over

__all__ = [
    "GAUGE_SD_MM",
    "Circle",
    "Overlay",
    "Profile",
    "Side",
    "Touching",
    "extra_lean_deg",
    "fit_circle",
    "fit_profile",
    "height_mm",
    "lay_over",
    "rolling_radius_at_lean_mm",
    "touching",
    "tread_shift_mm",
]
