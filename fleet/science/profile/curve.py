"""A tread's outline across the tire: on each side of the crown one arc, or two that join with a common tangent."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.profile.lean import LYING_DEG

Array = NDArray[np.float64]

Shape = tuple[float, float, float]
"""Radius at the crown, normal at the join in radians from upright, and radius beyond it."""


@dataclass(frozen=True)
class Side:
    """One side of a profile, from the crown outward.

    Attributes
    ----------
    crown_radius_mm : float
        Radius of the arc at the crown.
    shoulder_radius_mm : float
        Radius of the second arc; NaN where one arc does.
    join_deg : float
        Lean at which the contact passes to the second arc; NaN where one arc does.
    edge_deg : float
        Lean at which the outermost point that was measured would touch; beyond it nothing is known.
    crown_radius_sd_mm, shoulder_radius_sd_mm : float
        Standard deviations from the scatter of the points.
    """

    crown_radius_mm: float
    shoulder_radius_mm: float
    join_deg: float
    edge_deg: float
    crown_radius_sd_mm: float
    shoulder_radius_sd_mm: float

    @property
    def arcs(self) -> int:
        """Return the number of arcs."""
        return 1 if np.isnan(self.shoulder_radius_mm) else 2

    @property
    def shape(self) -> Shape:
        """Return the numbers of the curve; a single arc is joined to itself where the tread would stand upright."""
        if self.arcs == 1:
            return self.crown_radius_mm, np.pi / 2.0, self.crown_radius_mm
        return self.crown_radius_mm, float(np.radians(self.join_deg)), self.shoulder_radius_mm

    @property
    def reach_mm(self) -> float:
        """Return the distance across from the crown to the outermost point."""
        return float(_across_mm(np.radians(self.edge_deg), self.shape))


@dataclass(frozen=True)
class Touching:
    """Where a leaned tire touches the ground, relative to the crown; NaN beyond the edge that was measured.

    Attributes
    ----------
    across_mm : NDArray
        Distance of the contact from the center plane of the wheel.
    drop_mm : NDArray
        How much nearer to the axle the tread is there than at the crown.
    shift_mm : NDArray
        Way of the contact along the tread, from the crown.
    """

    across_mm: Array
    drop_mm: Array
    shift_mm: Array

    def rolling_radius_mm(self, radius_mm: ArrayLike) -> Array:
        """Compute the radius in mm the tire rolls on there, from its radius at the crown."""
        return within("radius_mm", radius_mm, above=0.0) - self.drop_mm

    def extra_lean_deg(self, cg_height_mm: ArrayLike) -> Array:
        """Compute how many degrees of the bike's lean are lost to the tire's breadth.

        The bike corners as if it leaned by the angle of the line from the contact to its center of mass, which is less
        than its lean by ``atan(across / (height - drop))``. Both wheels are taken to have this profile.

        Parameters
        ----------
        cg_height_mm : array_like
            Center of mass of bike and rider over the ground, upright, above 0.

        Raises
        ------
        ValueError
            If a height is not above 0.
        """
        height = within("cg_height_mm", cg_height_mm, above=0.0)
        return np.degrees(np.arctan2(self.across_mm, height - self.drop_mm))


def touching(side: Side, lean_deg: ArrayLike) -> Touching:
    """Return where the tire touches the ground at a lean toward this side.

    It is the one point whose tangent is the ground: on arcs of radii t and r that join at the angle j it lies
    ``(t - r) sin j + r sin(lean)`` across and ``t - (t - r) cos j - r cos(lean)`` down, and ``t j + r (lean - j)`` along
    the tread. The tire is taken as round, without the flattening of its contact patch.

    Parameters
    ----------
    side : Side
    lean_deg : array_like
        Of the wheel from upright toward this side, 0 to 90 degrees.

    Raises
    ------
    ValueError
        If a lean is outside its range.
    """
    lean = within("lean_deg", lean_deg, at_least=0.0, at_most=LYING_DEG)
    angle = np.radians(np.where(lean > side.edge_deg, np.nan, lean))
    t, join, r = side.shape
    inner, outer = np.minimum(angle, join), np.maximum(angle, join)
    return Touching(
        across_mm=_across_mm(angle, side.shape),
        drop_mm=t * (1.0 - np.cos(inner)) + r * (np.cos(join) - np.cos(outer)),
        shift_mm=t * inner + r * (outer - join),
    )


def height_mm(side: Side, across_mm: ArrayLike) -> Array:
    """Compute the height in mm over the crown, 0 or less, at a distance across from it; NaN beyond the reach.

    Parameters
    ----------
    side : Side
    across_mm : array_like
        Distance across from the crown toward this side, at least 0.

    Raises
    ------
    ValueError
        If a distance is negative.
    """
    across = within("across_mm", across_mm, at_least=0.0)
    across = np.where(across > side.reach_mm, np.nan, across)
    t, join, r = side.shape
    is_beyond = across > t * np.sin(join)
    radius = np.where(is_beyond, r, t)
    shift = np.where(is_beyond, (t - r) * np.sin(join), 0.0)
    lift = np.where(is_beyond, (t - r) * np.cos(join), 0.0)
    return lift - t + np.sqrt(np.maximum(radius**2 - (across - shift) ** 2, 0.0))


def distance_mm(across_mm: Array, up_mm: Array, shape: Shape) -> Array:
    """Compute the distances in mm of points from one side's curve at right angles to it, positive outside."""
    across, up, radius = _about_centre(across_mm, up_mm, shape)
    return np.hypot(across, up) - radius


def normal_rad(across_mm: Array, up_mm: Array, shape: Shape) -> Array:
    """Compute the angle from upright of the normal on which each point lies: the lean at which its foot touches."""
    across, up, _ = _about_centre(across_mm, up_mm, shape)
    return np.arctan2(across, up)


def _about_centre(across_mm: Array, up_mm: Array, shape: Shape) -> tuple[Array, Array, Array]:
    """Return points relative to the center of the arc they belong to, and its radius.

    The normal at the join passes through both centers, so the points beyond it belong to the second arc.
    """
    t, join, r = shape
    is_beyond = np.arctan2(across_mm, up_mm + t) > join
    back = np.where(is_beyond, t - r, 0.0)
    return (
        across_mm - back * np.sin(join),
        up_mm + t - back * np.cos(join),
        np.where(is_beyond, r, t),
    )


def _across_mm(normal_rad: Array, shape: Shape) -> Array:
    """Compute the distance in mm across from the crown to where the normal has an angle from upright."""
    t, join, r = shape
    inner, outer = np.minimum(normal_rad, join), np.maximum(normal_rad, join)
    return np.asarray(t * np.sin(inner) + r * (np.sin(outer) - np.sin(join)))[()]
