"""The stance of a motorcycle seen from the side, and what a change of tires does to it.

Rake is the angle of the steering axis from the vertical. A chassis is taken as one stiff body standing on two wheels;
a change of radius turns it about the line through its axles. Positive angles lift the nose: more rake.
"""

from fleet.science.geometry.chassis import Chassis, Shift, after_tires, normal_trail_mm, shift, trail_mm
from fleet.science.geometry.radius_change import (
    RadiusChange,
    combined,
    from_gap,
    from_rollout,
    from_sizes,
)
from fleet.science.geometry.restoring import Restored, adjusted, restore

__all__ = [
    "Chassis",
    "RadiusChange",
    "Restored",
    "Shift",
    "adjusted",
    "after_tires",
    "combined",
    "from_gap",
    "from_rollout",
    "from_sizes",
    "normal_trail_mm",
    "restore",
    "shift",
    "trail_mm",
]
