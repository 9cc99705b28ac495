"""Rake, trail and wheelbase of a chassis on its tires, and how other tires move them."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

Array = NDArray[np.float64]

STEEPEST_RAKE_DEG: Final = 0.0
FLATTEST_RAKE_DEG: Final = 60.0
LARGEST_OFFSET_MM: Final = 250.0


@dataclass(frozen=True)
class Chassis:
    """A motorcycle standing on level ground with straight steering, seen from the side.

    Attributes
    ----------
    rake_deg : array_like
        Angle of the steering axis from the vertical, 0 to 60 degrees.
    fork_offset_mm : array_like
        Distance of the front axle ahead of the steering axis, at right angles to it; -250 to 250 mm.
    wheelbase_mm : array_like
        Between the tires' contacts with the ground; more than both radii together, or the wheels would overlap.
    front_radius_mm, rear_radius_mm : array_like
        Height of the axle over the ground, above 0 mm. A free radius may stand in for it: the few millimeters by which
        the tire gives under load shorten the trail by about their number times the tangent of the rake.

    Raises
    ------
    ValueError
        If a figure is outside its range.
    """

    rake_deg: ArrayLike
    fork_offset_mm: ArrayLike
    wheelbase_mm: ArrayLike
    front_radius_mm: ArrayLike
    rear_radius_mm: ArrayLike

    def __post_init__(self) -> None:
        """Refuse a chassis that cannot exist."""
        within("rake_deg", self.rake_deg, at_least=STEEPEST_RAKE_DEG, at_most=FLATTEST_RAKE_DEG)
        within("fork_offset_mm", self.fork_offset_mm, at_least=-LARGEST_OFFSET_MM, at_most=LARGEST_OFFSET_MM)
        radii = within("front_radius_mm", self.front_radius_mm, above=0.0) + within(
            "rear_radius_mm", self.rear_radius_mm, above=0.0
        )
        wheelbase = within("wheelbase_mm", self.wheelbase_mm, above=0.0)
        within("wheelbase_mm less both radii", wheelbase - radii, above=0.0)


@dataclass(frozen=True)
class Shift:
    """A chassis after a change, and what the change did to it: after less before.

    Attributes
    ----------
    chassis : Chassis
        As it stands after the change.
    rake_deg : NDArray
        Also the change of pitch, since the steering head turns with the frame; positive lifts the nose.
    trail_mm, normal_trail_mm, wheelbase_mm : NDArray
    front_height_mm, rear_height_mm : NDArray
        Rise of the frame over the ground above the front and above the rear axle.
    """

    chassis: Chassis
    rake_deg: Array
    trail_mm: Array
    normal_trail_mm: Array
    wheelbase_mm: Array
    front_height_mm: Array
    rear_height_mm: Array


def normal_trail_mm(chassis: Chassis) -> Array:
    """Compute the distance in mm of the front tire's contact behind the steering axis, at right angles to the axis.

    ``R sin(rake) - offset`` [Cossalter2006] chapter 1.
    """
    return floats(chassis.front_radius_mm) * np.sin(np.radians(chassis.rake_deg)) - floats(
        chassis.fork_offset_mm
    )


def trail_mm(chassis: Chassis) -> Array:
    """Compute the distance in mm along the ground from the steering axis back to the front tire's contact.

    ``(R sin(rake) - offset) / cos(rake)`` [Cossalter2006] chapter 1.
    """
    return normal_trail_mm(chassis) / np.cos(np.radians(chassis.rake_deg))


def after_tires(chassis: Chassis, front_change_mm: ArrayLike, rear_change_mm: ArrayLike) -> Shift:
    """Compute the chassis on tires of other radii, with nothing else changed.

    The axles stay where they are in the frame, so the line between them keeps its length
    ``sqrt(wheelbase^2 + (Rf - Rr)^2)`` and turns from ``asin((Rf - Rr) / length)`` to that of the new radii; the
    steering head turns with it, and the wheelbase follows. For a stiff chassis this is exact. Two things are left out:

    - Turning the frame shifts some load between the wheels. On a 260 kg motorcycle with rider, center of mass 600 mm
      up, springs of 20 and 25 N/mm at the wheels, the springs add 4 % to the turn.
    - A swingarm moved for the chain's sake, or a changed preload, moves the axles in the frame.

    Parameters
    ----------
    chassis : Chassis
        As it stood on the old tires.
    front_change_mm, rear_change_mm : array_like
        New radius less old, in mm; as ``fleet.science.geometry.combined`` gives it. Broadcast with the chassis.

    Raises
    ------
    ValueError
        If a change is infinite or leaves a chassis that cannot exist.
    """
    front = within("front_change_mm", front_change_mm)
    rear = within("rear_change_mm", rear_change_mm)
    radii = floats(chassis.front_radius_mm) + front, floats(chassis.rear_radius_mm) + rear
    length = axle_line_mm(chassis)
    turned = np.arcsin((radii[0] - radii[1]) / length) - axle_line_rad(chassis)
    changed = replace(
        chassis,
        rake_deg=chassis.rake_deg + np.degrees(turned),
        wheelbase_mm=np.sqrt(length**2 - (radii[0] - radii[1]) ** 2),
        front_radius_mm=radii[0],
        rear_radius_mm=radii[1],
    )
    return shift(chassis, changed, front_height_mm=front, rear_height_mm=rear)


def shift(before: Chassis, after: Chassis, *, front_height_mm: ArrayLike, rear_height_mm: ArrayLike) -> Shift:
    """Compute what a change did, from the chassis before and after it and the rise of the frame over each axle."""
    return Shift(
        chassis=after,
        rake_deg=floats(after.rake_deg) - floats(before.rake_deg),
        trail_mm=trail_mm(after) - trail_mm(before),
        normal_trail_mm=normal_trail_mm(after) - normal_trail_mm(before),
        wheelbase_mm=floats(after.wheelbase_mm) - floats(before.wheelbase_mm),
        front_height_mm=floats(front_height_mm),
        rear_height_mm=floats(rear_height_mm),
    )


def axle_line_mm(chassis: Chassis) -> Array:
    """Compute the distance in mm between the axles."""
    return np.hypot(floats(chassis.wheelbase_mm), axle_drop_mm(chassis))


def axle_line_rad(chassis: Chassis) -> Array:
    """Compute the angle in radians by which the line between the axles rises toward the front."""
    return np.arctan2(axle_drop_mm(chassis), floats(chassis.wheelbase_mm))


def axle_drop_mm(chassis: Chassis) -> Array:
    """Compute how much higher in mm the front axle stands than the rear one."""
    return floats(chassis.front_radius_mm) - floats(chassis.rear_radius_mm)


def floats(values: ArrayLike) -> Array:
    """Return a chassis's figure as floats."""
    return np.asarray(values, dtype=np.float64)
