"""Bridge to the science of geometry: what was measured of two sets, to how the bike stands on each of them."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from fleet.catalogue.models import AXLES
from fleet.garage.models import Bike
from fleet.science.geometry import (
    Chassis,
    RadiusChange,
    Restored,
    Shift,
    after_tires,
    combined,
    from_gap,
    from_rollout,
    from_sizes,
    normal_trail_mm,
    restore,
    trail_mm,
)
from fleet.science.rolling import (
    RatioChange,
    SprocketChoice,
    Sprockets,
    gearing_change_percent,
    nearest_sprockets,
    radius_from_rollout_mm,
    ratio_change,
)
from fleet.science.tire_size import parse_size
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import Lengths, TireSet

CHASSIS: Final = ("wheelbase_mm", "rake_deg", "fork_offset_mm")
NEEDED: Final = {"wheelbase_mm": "wheelbase", "rake_deg": "rake", "fork_offset_mm": "fork offset"}
DISAGREE: Final = 2.0
"""Stretch from which two ways to measure one change are said to disagree; common practice, no published source."""


@dataclass(frozen=True)
class Wheel:
    """One wheel on both sets: its radius before, the change with one standard deviation, and how both are known."""

    axle: str
    before_mm: float
    change_mm: float
    sd_mm: float
    known_from: str
    disagrees: bool

    @property
    def after_mm(self) -> float:
        """Return the radius on the candidate tire."""
        return self.before_mm + self.change_mm

    @property
    def is_clear(self) -> bool:
        """Return whether the change exceeds twice its standard deviation."""
        return abs(self.change_mm) > 2.0 * self.sd_mm


@dataclass(frozen=True)
class Standing:
    """How the bike stands on one set: angles in degrees, lengths in mm."""

    rake_deg: float
    trail_mm: float
    normal_trail_mm: float
    wheelbase_mm: float
    fork_offset_mm: float
    front_radius_mm: float
    rear_radius_mm: float


@dataclass(frozen=True)
class Way:
    """One way to bring the rake back: how far to move what, and what is still different afterwards."""

    adjuster: str
    move_mm: float
    trail_left_mm: float
    front_height_mm: float
    rear_height_mm: float
    wheelbase_left_mm: float


@dataclass(frozen=True)
class Stance:
    """A bike on both sets; without the chassis's figures only what the radii alone tell."""

    wheels: dict[str, Wheel]
    ratio: RatioChange
    gearing_percent: float
    sprockets: tuple[SprocketChoice, ...]
    missing: tuple[str, ...]
    before: Standing | None = None
    after: Standing | None = None
    change: Shift | None = None
    ways: tuple[Way, ...] = ()

    @property
    def pitch_deg(self) -> float | None:
        """Return by how much the nose rose, which is the change of rake."""
        return float(self.change.rake_deg) if self.change else None

    @property
    def is_all_nominal(self) -> bool:
        """Return whether nothing was measured, so that all rests on size designations."""
        return all(wheel.known_from == SIZES for wheel in self.wheels.values())


SIZES: Final = "the sizes on the sidewalls"


def stance_of(test: TireTest, sets: dict[str, TireSet], lengths: dict[str, Lengths]) -> Stance:
    """Return how the bike of a test stands on its baseline and on its candidate tires."""
    wheels = {axle: _wheel(test, axle, sets, lengths) for axle in AXLES}
    front, rear = wheels["front"], wheels["rear"]
    present = (
        Sprockets(test.gearbox_teeth, test.wheel_teeth) if test.gearbox_teeth and test.wheel_teeth else None
    )
    stance = Stance(
        wheels=wheels,
        ratio=ratio_change(front.before_mm, rear.before_mm, front.after_mm, rear.after_mm),
        gearing_percent=float(gearing_change_percent(rear.before_mm, rear.after_mm)),
        sprockets=nearest_sprockets(present, rear.before_mm, rear.after_mm) if present else (),
        missing=tuple(word for name, word in NEEDED.items() if getattr(test.bike, name) is None),
    )
    chassis = _chassis(test.bike, front.before_mm, rear.before_mm)
    if chassis is None:
        return stance
    change = after_tires(chassis, front.change_mm, rear.change_mm)
    return replace(
        stance,
        before=_standing(chassis),
        after=_standing(change.chassis),
        change=change,
        ways=(
            _way(restore(chassis, change.chassis, "fork")),
            _way(restore(chassis, change.chassis, "rear")),
        ),
    )


def _chassis(bike: Bike, front_mm: float, rear_mm: float) -> Chassis | None:
    if bike.rake_deg is None or bike.fork_offset_mm is None or bike.wheelbase_mm is None:
        return None
    try:
        return Chassis(bike.rake_deg, bike.fork_offset_mm, bike.wheelbase_mm, front_mm, rear_mm)
    except ValueError:  # wheels of these radii do not go into this wheelbase: one of the figures is a slip
        return None


def _standing(chassis: Chassis) -> Standing:
    return Standing(
        rake_deg=float(np.asarray(chassis.rake_deg)),
        trail_mm=float(trail_mm(chassis)),
        normal_trail_mm=float(normal_trail_mm(chassis)),
        wheelbase_mm=float(np.asarray(chassis.wheelbase_mm)),
        fork_offset_mm=float(np.asarray(chassis.fork_offset_mm)),
        front_radius_mm=float(np.asarray(chassis.front_radius_mm)),
        rear_radius_mm=float(np.asarray(chassis.rear_radius_mm)),
    )


def _way(found: Restored) -> Way:
    return Way(
        adjuster=found.adjuster,
        move_mm=float(found.wanted_mm),
        trail_left_mm=float(found.left.trail_mm),
        front_height_mm=float(found.left.front_height_mm),
        rear_height_mm=float(found.left.rear_height_mm),
        wheelbase_left_mm=float(found.left.wheelbase_mm),
    )


def _wheel(test: TireTest, axle: str, sets: dict[str, TireSet], lengths: dict[str, Lengths]) -> Wheel:
    before, after = (lengths[side] for side in Side.values)
    sizes = [test.specs(side)[axle].size for side in Side.values]
    rolled = before.mm(axle, "roll_out")
    radius = float(radius_from_rollout_mm(rolled)) if rolled else parse_size(sizes[0]).radius_mm
    tires = [one.fittings[axle].tire_id if axle in one.fittings else None for one in sets.values()]
    if tires[0] is not None and tires[0] == tires[1]:
        return Wheel(axle, radius, 0.0, 0.0, "the same tire on both sets", disagrees=False)
    found, known_from = _measured(axle, before, after)
    if found is None:
        found, known_from = from_sizes(*sizes), SIZES
    return Wheel(
        axle=axle,
        before_mm=radius,
        change_mm=float(found.change_mm),
        sd_mm=float(found.sd_mm),
        known_from=known_from,
        disagrees=bool(found.stretch > DISAGREE),
    )


def _measured(axle: str, before: Lengths, after: Lengths) -> tuple[RadiusChange | None, str]:
    """Return the change of a radius from what was read on both sets, all ways together, and by which ways."""
    ways = {"roll_out": ("roll-out", from_rollout), "gap": ("gap", from_gap)}
    found = {}
    for quantity, (word, way) in ways.items():
        was, is_now = before.mm(axle, quantity), after.mm(axle, quantity)
        if was is not None and is_now is not None:
            found[word] = way(was, is_now)
    return (combined(*found.values()), " and ".join(found)) if found else (None, "")
