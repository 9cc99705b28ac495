"""Bridge from what was measured on the wheels to what other tires do to the bike: radius, rake, trail, gearing."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fleet.catalogue.models import AXLES, TireSpec
from fleet.garage.models import Bike
from fleet.science.geometry import (
    Chassis,
    RadiusChange,
    after_tires,
    combined,
    from_gap,
    from_rollout,
    from_sizes,
    trail_mm,
)
from fleet.science.rolling import gearing_change_percent, ratio_change
from fleet.science.tire_size import parse_size

CHASSIS: Final = {
    "wheelbase_mm": "the wheelbase",
    "rake_deg": "the rake",
    "fork_offset_mm": "the fork offset",
}
DISAGREE: Final = 2.0
"""From this stretch on two ways of measuring contradict each other: twice as far apart as their noise explains; common
practice, no published source."""


@dataclass(frozen=True)
class Ends:
    """One end of the bike: the tire before and the tire now, and what was measured on each in mm."""

    old: TireSpec | None
    new: TireSpec
    roll_out_mm: tuple[float | None, float | None] = (None, None)
    gap_mm: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True)
class Change:
    """How much larger the radius is than before, with one standard deviation, and what that rests on."""

    change_mm: float
    sd_mm: float
    rests_on: str
    is_contradicted: bool = False


@dataclass(frozen=True)
class Moved:
    """One figure of the bike before and after, and how sure its change is."""

    name: str
    unit: str
    decimals: int
    before: float
    after: float
    sd: float


@dataclass(frozen=True)
class Stance:
    """What the change of tires did, and which figures of the chassis are missing to say the rest."""

    changes: dict[str, Change]
    gearing_percent: float | None = None
    gearing_sd: float = 0.0
    ratio_percent: float | None = None
    may_need_relearning: bool = False
    moved: list[Moved] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)


def stance_after(bike: Bike, ends: Mapping[str, Ends]) -> Stance:
    """Return what the tires that are on now do to a bike against those that came off; an end left alone stays as it was."""
    changes = {axle: change for axle, one in ends.items() if (change := _change(one)) is not None}
    missing = [words for name, words in CHASSIS.items() if getattr(bike, name) is None]
    radii = {axle: design_radius_mm(one.old or one.new) for axle, one in ends.items()}
    if not changes or len(radii) < len(AXLES) or None in radii.values():
        return Stance(changes, missing=missing)
    front_mm, rear_mm = (float(radii[axle] or 0.0) for axle in AXLES)
    front, rear = (changes.get(axle, UNCHANGED) for axle in AXLES)
    ratio = ratio_change(front_mm, rear_mm, front_mm + front.change_mm, rear_mm + rear.change_mm)
    return Stance(
        changes=changes,
        gearing_percent=float(gearing_change_percent(rear_mm, rear_mm + rear.change_mm)),
        gearing_sd=100.0 * rear.sd_mm / rear_mm,
        ratio_percent=float(ratio.change_percent),
        may_need_relearning=bool(ratio.may_need_relearning),
        moved=[] if missing else _moved(bike, front_mm, rear_mm, front, rear),
        missing=missing,
    )


def design_radius_mm(spec: TireSpec) -> float | None:
    """Return the design radius of a spec's size, unloaded; nothing where its size does not tell."""
    try:
        return parse_size(spec.size).radius_mm
    except ValueError:  # an inch or letter designation, imported before sizes were checked
        return None


UNCHANGED: Final = Change(0.0, 0.0, "the same tire as before")


def _change(one: Ends) -> Change | None:
    if one.old is None:
        return None
    before, after = one.roll_out_mm
    measured = {
        "roll-out": from_rollout(_nan(before), _nan(after)),
        "gap": from_gap(_nan(one.gap_mm[0]), _nan(one.gap_mm[1])),
    }
    known = {name: change for name, change in measured.items() if np.isfinite(change.change_mm)}
    if known:
        return _told(combined(*known.values()), " and ".join(known))
    if design_radius_mm(one.old) is None or design_radius_mm(one.new) is None:
        return None
    return _told(from_sizes(one.old.size, one.new.size), "the sizes alone")


def _told(change: RadiusChange, rests_on: str) -> Change:
    return Change(
        float(change.change_mm),
        float(change.sd_mm),
        rests_on,
        is_contradicted=float(change.stretch) > DISAGREE,
    )


def _moved(bike: Bike, front_mm: float, rear_mm: float, front: Change, rear: Change) -> list[Moved]:
    chassis = Chassis(
        rake_deg=float(bike.rake_deg or 0.0),
        fork_offset_mm=float(bike.fork_offset_mm or 0.0),
        wheelbase_mm=float(bike.wheelbase_mm or 0.0),
        front_radius_mm=front_mm,
        rear_radius_mm=rear_mm,
    )
    # The change itself, and the change with one end and then the other larger by its standard deviation.
    found = after_tires(
        chassis,
        np.array([front.change_mm, front.change_mm + front.sd_mm, front.change_mm]),
        np.array([rear.change_mm, rear.change_mm, rear.change_mm + rear.sd_mm]),
    )
    return [
        _row("Rake", "°", 2, float(bike.rake_deg or 0.0), found.rake_deg),
        _row("Trail", "mm", 1, float(trail_mm(chassis)), found.trail_mm),
        _row("Wheelbase", "mm", 1, float(bike.wheelbase_mm or 0.0), found.wheelbase_mm),
    ]


def _row(name: str, unit: str, decimals: int, before: float, change: NDArray[np.float64]) -> Moved:
    sd = float(np.hypot(change[1] - change[0], change[2] - change[0]))
    return Moved(name, unit, decimals, before, before + float(change[0]), sd)


def _nan(value: float | None) -> float:
    return np.nan if value is None else value
