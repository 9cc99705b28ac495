"""Bring the rake back after a change of tires, at the fork's clamps or at the rear ride height."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.geometry.chassis import (
    Chassis,
    Shift,
    axle_drop_mm,
    axle_line_mm,
    axle_line_rad,
    floats,
    shift,
)

Array = NDArray[np.float64]

Adjuster = Literal["fork", "rear"]


@dataclass(frozen=True)
class Restored:
    """An adjustment that brings the rake back, as far as its travel goes.

    Attributes
    ----------
    adjuster : {"fork", "rear"}
    wanted_mm : NDArray
        The adjustment that would bring the rake back altogether. Positive: the fork legs pushed up through the clamps,
        or the frame raised over the rear axle. Both steepen the rake.
    adjustment_mm : NDArray
        The same, held within the travel there is.
    left : Shift
        The chassis so adjusted, and what is still different from the chassis before the tires.
    """

    adjuster: Adjuster
    wanted_mm: Array
    adjustment_mm: Array
    left: Shift


def adjusted(chassis: Chassis, fork_up_mm: ArrayLike = 0.0, rear_up_mm: ArrayLike = 0.0) -> Chassis:
    """Compute the chassis after moving the fork in its clamps and the rear ride height, on the same tires.

    The fork moves along the steering axis, so its offset stays. The rear axle moves straight down from the frame; a real
    one moves on the swingarm's arc, which shifts the wheelbase by the tangent of the swingarm's slope, about a fifth of
    the adjustment.

    Parameters
    ----------
    chassis : Chassis
        As it stands.
    fork_up_mm : array_like
        Positive: legs pushed up through the clamps, which lowers the nose.
    rear_up_mm : array_like
        Positive: the frame raised over the rear axle, measured upright at the axle and not at the shock.

    Raises
    ------
    ValueError
        If an adjustment is infinite or leaves a chassis that cannot exist.
    """
    fork = within("fork_up_mm", fork_up_mm)
    rear = within("rear_up_mm", rear_up_mm)
    rake = np.radians(chassis.rake_deg)
    drop = axle_drop_mm(chassis)
    ahead = floats(chassis.wheelbase_mm) - fork * np.sin(rake)
    up = drop + fork * np.cos(rake) + rear
    length = np.hypot(ahead, up)
    turned = np.arcsin(drop / length) - np.arctan2(up, ahead)
    return replace(
        chassis,
        rake_deg=chassis.rake_deg + np.degrees(turned),
        wheelbase_mm=np.sqrt(length**2 - drop**2),
    )


def restore(
    before: Chassis,
    after: Chassis,
    adjuster: Adjuster,
    *,
    travel_mm: tuple[ArrayLike, ArrayLike] | None = None,
) -> Restored:
    """Compute the adjustment that gives a chassis on new tires the rake it had before, and what that leaves over.

    With the rake back, the front axle must stand ``Rf - Rr`` over the rear one. What is missing to that in the frame,
    turned to the old rake, is made up along the steering axis or straight down at the rear axle: exact for a stiff
    chassis with fork legs parallel to the steering axis. Trail follows the front radius and comes back only if that did.

    Before riding, the clearance of the front tire at full fork travel must be checked: legs pushed up take it away.

    Parameters
    ----------
    before, after : Chassis
        The same chassis on the old and on the new tires, as from ``after_tires``.
    adjuster : {"fork", "rear"}
        What is moved: the fork in its clamps or the rear ride height, signs as in ``Restored``.
    travel_mm : tuple of array_like, optional
        Lowest and highest adjustment there is, from where it stands now; without it there is no limit.

    Raises
    ------
    ValueError
        If the adjuster is unknown, the lowest adjustment is over the highest, or the chassis so adjusted cannot exist.
    """
    if adjuster not in {"fork", "rear"}:
        raise ValueError(f"adjuster must be fork or rear, not {adjuster!r}")
    turn_back = np.radians(before.rake_deg) - np.radians(after.rake_deg)
    missing = axle_drop_mm(after) - axle_line_mm(after) * np.sin(axle_line_rad(after) + turn_back)
    upright = np.cos(np.radians(before.rake_deg)) if adjuster == "fork" else np.cos(turn_back)
    wanted = missing / upright
    adjustment = _held(wanted, travel_mm)
    by_fork, by_rear = (adjustment, 0.0) if adjuster == "fork" else (0.0, adjustment)
    chassis = adjusted(after, by_fork, by_rear)
    still_turned = np.radians(chassis.rake_deg) - np.radians(after.rake_deg)
    left = shift(
        before,
        chassis,
        front_height_mm=floats(after.front_radius_mm)
        - floats(before.front_radius_mm)
        - by_fork * np.cos(np.radians(chassis.rake_deg)),
        rear_height_mm=floats(after.rear_radius_mm)
        - floats(before.rear_radius_mm)
        + by_rear * np.cos(still_turned),
    )
    return Restored(adjuster, wanted, adjustment, left)


def _held(wanted: Array, travel_mm: tuple[ArrayLike, ArrayLike] | None) -> Array:
    """Return the adjustment that the travel allows."""
    if travel_mm is None:
        return wanted
    lowest, highest = within("lowest travel_mm", travel_mm[0]), within("highest travel_mm", travel_mm[1])
    within("highest less lowest travel_mm", highest - lowest, at_least=0.0)
    return np.clip(wanted, lowest, highest)
