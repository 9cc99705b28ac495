"""Bridge to the science of outlines: two treads laid over each other, and what each does at lean."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from fleet.running.models import ContourReading
from fleet.running.outlines import outline_of
from fleet.science.profile import Overlay, Profile, lay_over, touching

LEANS_DEG: Final = (0, 15, 30, 40, 50, 55)
USUAL_MASS_HEIGHT_MM: Final = 600.0
"""Center of mass of bike and rider over the ground; common practice, no published source."""


@dataclass(frozen=True)
class AtLean:
    """What one tire does at one lean, the mean of both sides; None beyond what was measured."""

    lean_deg: int
    rolling_radius_mm: float | None
    shift_mm: float | None
    extra_lean_deg: float | None


@dataclass(frozen=True)
class AtBothLeans:
    """The tires that were measured, at one lean."""

    deg: int
    cells: tuple[AtLean, ...]


@dataclass(frozen=True)
class Outline:
    """One tire's outline: radius at the crown with its standard deviation, and what it does at lean."""

    crown_radius_mm: float
    crown_radius_sd_mm: float
    breadth_mm: float
    points: int
    leans: tuple[AtLean, ...]


@dataclass(frozen=True)
class Outlines:
    """The outlines of the tires of one axle; together only where both were measured."""

    axle: str
    before: Outline | None
    after: Outline | None
    overlay: Overlay | None

    @property
    def leans(self) -> list[AtBothLeans]:
        """Return what was measured of both tires, lean by lean."""
        measured = [one.leans for one in (self.before, self.after) if one]
        return [AtBothLeans(cells[0].lean_deg, cells) for cells in zip(*measured, strict=True)]


def outlines_of(
    axle: str,
    before: ContourReading | None,
    after: ContourReading | None,
    *,
    radii_mm: tuple[float, float],
    mass_height_mm: float | None,
) -> Outlines:
    """Return the outlines of one axle's tires on both sets."""
    height = mass_height_mm or USUAL_MASS_HEIGHT_MM
    profiles = [outline_of(one) if one else None for one in (before, after)]
    told = [
        _outline(profile, radius, height) if profile else None
        for profile, radius in zip(profiles, radii_mm, strict=True)
    ]
    old, new = profiles
    return Outlines(axle, told[0], told[1], lay_over(old, new) if old and new else None)


def _outline(profile: Profile, radius_mm: float, mass_height_mm: float) -> Outline:
    return Outline(
        crown_radius_mm=profile.crown_radius_mm,
        crown_radius_sd_mm=profile.crown_radius_sd_mm,
        breadth_mm=profile.breadth_mm,
        points=int(np.count_nonzero(~np.isnan(profile.distances_mm))),
        leans=tuple(_at_lean(profile, lean, radius_mm, mass_height_mm) for lean in LEANS_DEG),
    )


def _at_lean(profile: Profile, lean_deg: int, radius_mm: float, mass_height_mm: float) -> AtLean:
    sides = [touching(side, lean_deg) for side in (profile.left, profile.right)]

    def mean(values: list[float]) -> float | None:
        found = float(np.mean(values))
        return None if np.isnan(found) else found

    return AtLean(
        lean_deg=lean_deg,
        rolling_radius_mm=mean([float(side.rolling_radius_mm(radius_mm)) for side in sides]),
        shift_mm=mean([float(side.shift_mm) for side in sides]),
        extra_lean_deg=mean([float(side.extra_lean_deg(mass_height_mm)) for side in sides]),
    )
