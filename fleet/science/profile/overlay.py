"""Two profiles laid over each other at the crown: an old tire and a new one, or one tire before and after wear."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from fleet.science.bounds import within
from fleet.science.profile.curve import height_mm
from fleet.science.profile.fitting import Profile

Array = NDArray[np.float64]

Verdict = Literal["more pointed", "flatter", "no clear change"]

STEPS: Final = 20
CLEAR_SDS: Final = 2.0
"""Standard deviations from which a change of the crown radius is called one; one chance in twenty of calling noise."""


@dataclass(frozen=True)
class Overlay:
    """Two profiles over the breadth that both were measured on, level and aligned at the crown.

    Attributes
    ----------
    across_mm : NDArray, shape (2 steps + 1,)
        From the left edge (negative) over the crown to the right edge.
    before_mm, after_mm, difference_mm : NDArray
        Heights over the crown, 0 or less, and after less before: positive where the second tread stands fuller.
    mean_difference_mm : float
        Over the breadth; positive for a profile that is fuller toward its shoulders, negative for one that falls away.
    left_edge_mm, right_edge_mm : float
        The difference at the edges.
    crown_radius_change_mm, crown_radius_change_sd_mm : float
        After less before, with the standard deviation from both scatters.
    crown : {"more pointed", "flatter", "no clear change"}
        Of the crown alone, from its radius; two standard deviations make it clear. The shoulders are in the differences.
    """

    across_mm: Array
    before_mm: Array
    after_mm: Array
    difference_mm: Array
    mean_difference_mm: float
    left_edge_mm: float
    right_edge_mm: float
    crown_radius_change_mm: float
    crown_radius_change_sd_mm: float
    crown: Verdict


def lay_over(before: Profile, after: Profile, *, steps: int = STEPS) -> Overlay:
    """Return the differences between two profiles aligned at the crown, left on left.

    Tread that was worn off the crown does not show here, since both crowns are laid together; it shows in the radius of
    the tire.

    Parameters
    ----------
    before, after : Profile
    steps : int
        Places on each side of the crown, at least 1.

    Raises
    ------
    ValueError
        If steps are fewer than 1.
    """
    number = int(within("steps", steps, at_least=1))
    left = np.linspace(min(before.left.reach_mm, after.left.reach_mm), 0.0, number, endpoint=False)
    right = np.linspace(0.0, min(before.right.reach_mm, after.right.reach_mm), number + 1)
    old, new = (
        np.concatenate([height_mm(profile.left, left), height_mm(profile.right, right)])
        for profile in (before, after)
    )
    across = np.concatenate([-left, right])
    difference = new - old
    change = after.crown_radius_mm - before.crown_radius_mm
    sd = float(np.hypot(before.crown_radius_sd_mm, after.crown_radius_sd_mm))
    return Overlay(
        across_mm=across,
        before_mm=old,
        after_mm=new,
        difference_mm=difference,
        mean_difference_mm=float(np.trapezoid(difference, across) / (across[-1] - across[0])),
        left_edge_mm=float(difference[0]),
        right_edge_mm=float(difference[-1]),
        crown_radius_change_mm=change,
        crown_radius_change_sd_mm=sd,
        crown=_verdict(change, sd),
    )


def _verdict(change_mm: float, sd_mm: float) -> Verdict:
    if abs(change_mm) <= CLEAR_SDS * sd_mm:
        return "no clear change"
    return "flatter" if change_mm > 0.0 else "more pointed"
