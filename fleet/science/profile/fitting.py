"""Fit a profile to the points of a contour gauge."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.profile.circle import Circle, fit_circle, usable
from fleet.science.profile.curve import Shape, Side, normal_rad
from fleet.science.profile.trial import (
    FEWEST_BEYOND,
    Points,
    Trial,
    more_arcs,
    one_arc_each,
)

Array = NDArray[np.float64]

GAUGE_SD_MM: Final = 0.1
"""Standard deviation of one point of a contour gauge; common practice, no published source."""

FEWEST_POINTS: Final = 8

LEAST_GAIN: Final = 4.0
"""Gain of the criterion that more arcs must bring: a curve 4 or more behind has considerably less support
[Burnham2002]. Of outlines that are one arc a side, two in a hundred or fewer are then given more."""


@dataclass(frozen=True)
class Profile:
    """A tread's outline: level at the crown, and from there one arc or two on each side.

    Left is the side of smaller x; which side of the tire that is, whoever lays the gauge on must note.

    Attributes
    ----------
    centre_mm, crown_mm : float
        x and z of the crown on the gauge.
    left, right : Side
    crown_radius_mm, crown_radius_sd_mm : float
        Of both sides together: one over the mean of their curvatures at the crown. The standard deviation is from the
        scatter of the points.
    rms_mm : float
        Root mean square distance of the points from the curve.
    distances_mm : NDArray, shape (n,)
        Of each point given from the curve, positive outside; NaN for a point passed over.
    """

    centre_mm: float
    crown_mm: float
    left: Side
    right: Side
    crown_radius_mm: float
    crown_radius_sd_mm: float
    rms_mm: float
    distances_mm: Array

    @property
    def breadth_mm(self) -> float:
        """Return the distance across between the outermost points."""
        return self.left.reach_mm + self.right.reach_mm


def fit_profile(x_mm: ArrayLike, z_mm: ArrayLike, *, gauge_sd_mm: float = GAUGE_SD_MM) -> Profile:
    """Return the profile nearest to the points of a contour gauge, by least squares of the distances at right angles.

    Each side has its own arcs; they meet level at the crown, whose place is found too, and two arcs of a side join with
    a common tangent. The simplest curve is taken whose information criterion [Hurvich1989] is within ``LEAST_GAIN`` of
    the best one. The search starts from the circle nearest to all points [Gander1994].

    The gauge must lie at right angles to the wheel's plane: tilted by one degree it moves the crown of a tire of 95 mm
    crown radius by 1.7 mm. Points that fell into a groove must be left out, or given as NaN.

    Parameters
    ----------
    x_mm, z_mm : array_like, shape (n,)
        Across the tire and away from its axle, in mm; at least 8 points of which 3 lie on either side of the crown. A
        side is given two arcs only where at least 6 points lie on it.
    gauge_sd_mm : float
        Standard deviation of one point, above 0; scatter below it is never taken for shape.

    Raises
    ------
    ValueError
        If there are too few points, they lie on a line, curve away from the axle or miss the crown, or a figure is
        outside its range.
    """
    x, z, is_whole = usable(x_mm, z_mm, FEWEST_POINTS)
    noise = float(within("gauge_sd_mm", gauge_sd_mm, above=0.0))
    if np.isnan(noise):
        raise ValueError("gauge_sd_mm must be a number, not nan")
    points = Points(x, z)
    circle = fit_circle(x, z)
    if circle.centre_z_mm > z.mean():
        raise ValueError("z_mm must be highest at the crown, and these points curve the other way")
    chosen = _chosen(points, circle, noise)
    distances = np.full(is_whole.shape, np.nan)
    distances[is_whole] = chosen.distances
    return _profile(chosen, points, distances)


def _chosen(points: Points, circle: Circle, gauge_sd_mm: float) -> Trial:
    """Return the simplest of the curves that the points speak for."""
    crown = np.array([circle.centre_x_mm, circle.centre_z_mm + circle.radius_mm])
    _refuse_beside(points, crown[0])
    simple = one_arc_each(points, crown, circle.radius_mm)
    trials = [simple]
    # Where one arc a side already fits as well as the gauge measures, no other can gain.
    if simple.squares > len(points.x) * gauge_sd_mm**2:
        trials += more_arcs(points, simple)
    enough = min(trial.score(gauge_sd_mm) for trial in trials) + LEAST_GAIN
    chosen = min(
        (trial for trial in trials if trial.score(gauge_sd_mm) <= enough),
        key=lambda trial: (len(trial.p), trial.squares),
    )
    _refuse_beside(points, chosen.p[0])
    return chosen


def _refuse_beside(points: Points, crown: float) -> None:
    lowest, highest = points.crown_between
    if not lowest < crown < highest:
        raise ValueError(
            f"x_mm must have {FEWEST_BEYOND} points on either side of the crown, and the crown is at {crown:g}"
        )


def _profile(chosen: Trial, points: Points, distances: Array) -> Profile:
    across, up = points.x - chosen.p[0], points.z - chosen.p[1]
    left_shape, right_shape = chosen.shapes
    sds = np.sqrt(np.diag(chosen.covariance))
    is_left = across < 0.0
    curvatures = np.array([1.0 / left_shape[0], 1.0 / right_shape[0]])
    radius = 1.0 / curvatures.mean()
    # The derivatives of the common radius by the logarithms of the two.
    slopes = radius**2 * curvatures / 2.0
    both = chosen.covariance[np.ix_([2, chosen.right_at], [2, chosen.right_at])]
    return Profile(
        centre_mm=float(chosen.p[0]),
        crown_mm=float(chosen.p[1]),
        left=_side(left_shape, sds[2 : chosen.right_at], -across[is_left], up[is_left]),
        right=_side(right_shape, sds[chosen.right_at :], across[~is_left], up[~is_left]),
        crown_radius_mm=float(radius),
        crown_radius_sd_mm=float(np.sqrt(slopes @ both @ slopes)),
        rms_mm=float(np.sqrt(np.mean(chosen.distances**2))),
        distances_mm=distances,
    )


def _side(shape: Shape, sds: Array, across: Array, up: Array) -> Side:
    t, join, r = shape
    is_two = len(sds) > 1
    return Side(
        crown_radius_mm=t,
        shoulder_radius_mm=r if is_two else np.nan,
        join_deg=float(np.degrees(join)) if is_two else np.nan,
        edge_deg=float(np.degrees(min(normal_rad(across, up, shape).max(), np.pi / 2.0))),
        crown_radius_sd_mm=float(t * sds[0]),
        shoulder_radius_sd_mm=float(r * sds[2]) if is_two else np.nan,
    )
