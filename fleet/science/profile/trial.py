"""Candidates for a profile: curves of one or two arcs a side, each at its best for the points.

The parameters are the place of the crown (x, z) and then, left before right, the logarithm of the radius at the crown
and, where a side has two arcs, the way along the tread to their join and the logarithm of the second radius. Way and
logarithm stay well behaved where a crown is nearly flat.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from fleet.science.profile.curve import Shape, distance_mm

Array = NDArray[np.float64]
Span = tuple[float, float]

NARROWEST_MM: Final = 5.0
WIDEST_MM: Final = 2000.0
"""Radius from which a crown is flat to any gauge: over 40 mm of breadth it falls by 0.1 mm."""

FEWEST_BEYOND: Final = 3
"""Points that lie inside and outside a join at least, and on either side of the crown."""

LAST_JOIN_RAD: Final = 1.55

# Starts that lost no minimum to a denser grid over sixty random outlines of 21 to 60 points.
JOINS_TRIED: Final = (0.3, 0.5, 0.7)
SHOULDER_TRIED: Final = 1.5
AGREED: Final = 1e-10


@dataclass(frozen=True)
class Trial:
    """A curve at its best for some points: parameters, where the right side's begin, distances and their slopes."""

    p: Array
    right_at: int
    distances: Array
    slopes: Array

    @property
    def shapes(self) -> tuple[Shape, Shape]:
        """Return the curves of the left and of the right side."""
        return _shape(self.p[2 : self.right_at]), _shape(self.p[self.right_at :])

    @property
    def squares(self) -> float:
        """Return the sum of the squared distances."""
        return float(np.sum(self.distances**2))

    @cached_property
    def covariance(self) -> Array:
        """Return the covariance of the parameters, the noise taken from the scatter."""
        spare = len(self.distances) - len(self.p)
        inverse = np.linalg.pinv(self.slopes)
        return np.asarray(inverse @ inverse.T * self.squares / spare)

    def score(self, gauge_sd_mm: float) -> float:
        """Return the information criterion of few points [Hurvich1989]: less is better.

        Scatter below the noise of the gauge counts as the noise of the gauge.
        """
        n, k = len(self.distances), len(self.p) + 1
        scatter = max(self.squares / n, gauge_sd_mm**2)
        return float(n * np.log(scatter) + 2.0 * k + 2.0 * k * (k + 1) / (n - k - 1))


@dataclass(frozen=True)
class Points:
    """Points of a contour gauge."""

    x: Array
    z: Array

    @property
    def crown_between(self) -> tuple[float, float]:
        """Return the places between which the crown must lie to have points on either side."""
        ordered = np.sort(self.x)
        return float(ordered[FEWEST_BEYOND - 1]), float(ordered[-FEWEST_BEYOND])

    def join_spans(self, crown: Array) -> list[Span | None]:
        """Return, left and right of a crown, the shortest and longest way to a join; None with too few points."""
        ways = np.hypot(self.x - crown[0], self.z - crown[1])
        found: list[Span | None] = []
        for is_there in (self.x < crown[0], self.x > crown[0]):
            way = np.sort(ways[is_there])
            is_enough = len(way) >= 2 * FEWEST_BEYOND and way[FEWEST_BEYOND - 1] < way[-FEWEST_BEYOND]
            found.append((float(way[FEWEST_BEYOND - 1]), float(way[-FEWEST_BEYOND])) if is_enough else None)
        return found

    def nearest(self, starts: list[Array], spans: list[Span | None]) -> Trial:
        """Return the nearest curve reached from any of some starts, with a join on each side that is given a span."""
        low, high = [self.crown_between[0], -np.inf], [self.crown_between[1], np.inf]
        for span in spans:
            low.append(np.log(NARROWEST_MM))
            high.append(np.log(WIDEST_MM))
            if span is not None:
                low += [span[0], np.log(NARROWEST_MM)]
                high += [span[1], np.log(WIDEST_MM)]
        right_at = 3 if spans[0] is None else 5
        found = [
            least_squares(
                _distances,
                np.clip(start, low, high),
                args=(self, right_at),
                bounds=(low, high),
                x_scale="jac",
                xtol=AGREED,
                ftol=AGREED,
                gtol=AGREED,
            )
            for start in starts
        ]
        best = min(found, key=lambda one: float(one.cost))
        return Trial(best.x, right_at, best.fun, np.asarray(best.jac, dtype=np.float64))


def one_arc_each(points: Points, crown: Array, radius_mm: float) -> Trial:
    """Return the nearest curve of one arc a side."""
    start = np.array([*crown, np.log(radius_mm), np.log(radius_mm)])
    return points.nearest([start], [None, None])


def more_arcs(points: Points, simple: Trial) -> list[Trial]:
    """Return the nearest curves with two arcs on the left, on the right and on both sides, where points suffice."""
    left, right = points.join_spans(simple.p[:2])
    wanted: list[list[Span | None]] = [[left, None], [None, right], [left, right]]
    if left is None or right is None:
        wanted = [spans for spans in wanted[:2] if spans != [None, None]]
    return [points.nearest(_starts(simple, spans), spans) for spans in wanted]


def _distances(p: Array, points: Points, right_at: int) -> Array:
    left, right = _shape(p[2:right_at]), _shape(p[right_at:])
    across, up = points.x - p[0], points.z - p[1]
    return np.where(across < 0.0, distance_mm(-across, up, left), distance_mm(across, up, right))


def _shape(side: Array) -> Shape:
    t = float(np.exp(side[0]))
    if len(side) == 1:
        return t, np.pi / 2.0, t
    return t, min(float(side[1]) / t, LAST_JOIN_RAD), float(np.exp(side[2]))


def _starts(simple: Trial, spans: list[Span | None]) -> list[Array]:
    """Return starts with joins spread over what is possible."""
    starts = []
    for place in JOINS_TRIED:
        start = list(simple.p[:2])
        for span, log_radius in zip(spans, simple.p[2:], strict=True):
            start.append(log_radius)
            if span is not None:
                start += [span[0] + place * (span[1] - span[0]), log_radius + np.log(SHOULDER_TRIED)]
        starts.append(np.array(start))
    return starts
