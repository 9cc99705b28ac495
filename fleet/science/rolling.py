"""Rolling radii of the wheels under load, and what other tires do to wheel speeds and gearing."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

Array = NDArray[np.float64]

RELEARN_PERCENT: Final = 1.5
"""Change of the front to rear ratio from which electronics that compare wheel speeds may need to learn it anew; common
practice, no published source. The bike's handbook knows better."""

FEWEST_TEETH: Final = 8
MOST_TEETH: Final = 90
LARGEST_SPAN: Final = 20


@dataclass(frozen=True)
class RatioChange:
    """Front to rear ratio of the rolling radii on old and new tires.

    Attributes
    ----------
    before, after : NDArray
    change_percent : NDArray
        Positive: the rear wheel turns faster against the front one than it did at the same road speed.
    may_need_relearning : NDArray of bool
        The ratio changed by the limit or more, up or down. False where it is not known.
    """

    before: Array
    after: Array
    change_percent: Array
    may_need_relearning: NDArray[np.bool_]


@dataclass(frozen=True)
class Sprockets:
    """Teeth of the sprockets on the gearbox (front) and on the rear wheel.

    Raises
    ------
    ValueError
        If a sprocket has fewer than 8 or more than 90 teeth.
    """

    front: int
    rear: int

    def __post_init__(self) -> None:
        """Refuse sprockets that no chain runs on."""
        within("front", self.front, at_least=FEWEST_TEETH, at_most=MOST_TEETH)
        within("rear", self.rear, at_least=FEWEST_TEETH, at_most=MOST_TEETH)

    @property
    def reduction(self) -> float:
        """Return the turns of the gearbox sprocket for one turn of the wheel."""
        return self.rear / self.front


@dataclass(frozen=True)
class SprocketChoice:
    """A pair of sprockets and what it leaves over: road speed at one engine speed against before, in percent."""

    sprockets: Sprockets
    teeth_changed: int
    left_over_percent: float


def rolling_radius_mm(free_radius_mm: ArrayLike, deflection_mm: ArrayLike) -> Array:
    """Compute the rolling radius in mm of a loaded tire, ``free radius - deflection / 3`` [BlundellHarty2004].

    The tread belt hardly shortens in the contact patch, so a wheel covers more ground than its axle's height suggests.

    Parameters
    ----------
    free_radius_mm : array_like
        Unloaded radius, above 0.
    deflection_mm : array_like
        How much lower the axle stands under load, at least 0 and less than the radius; the rule is for the usual few
        percent of the radius.

    Raises
    ------
    ValueError
        If a figure is outside its range.
    """
    free = within("free_radius_mm", free_radius_mm, above=0.0)
    deflection = within("deflection_mm", deflection_mm, at_least=0.0)
    within("free_radius_mm less deflection_mm", free - deflection, above=0.0)
    return free - deflection / 3.0


def radius_from_rollout_mm(rollout_mm: ArrayLike) -> Array:
    """Compute the rolling radius in mm from the distance in mm that the loaded wheel covers in one turn.

    Raises
    ------
    ValueError
        If a roll-out is not above 0.
    """
    return within("rollout_mm", rollout_mm, above=0.0) / (2.0 * np.pi)


def ratio_change(
    front_before_mm: ArrayLike,
    rear_before_mm: ArrayLike,
    front_after_mm: ArrayLike,
    rear_after_mm: ArrayLike,
    *,
    relearn_percent: ArrayLike = RELEARN_PERCENT,
) -> RatioChange:
    """Compute the front to rear ratio of the rolling radii before and after a change of tires.

    All four must be radii of one kind: free ones compared with rolling ones would look like a change of tires.

    Parameters
    ----------
    front_before_mm, rear_before_mm, front_after_mm, rear_after_mm : array_like
        Radii in mm on old and new tires, above 0.
    relearn_percent : array_like
        Change of the ratio in percent from which electronics may need to learn it anew, above 0.

    Raises
    ------
    ValueError
        If a radius or the limit is not above 0.
    """
    before = _radius("front_before_mm", front_before_mm) / _radius("rear_before_mm", rear_before_mm)
    after = _radius("front_after_mm", front_after_mm) / _radius("rear_after_mm", rear_after_mm)
    change = 100.0 * (after / before - 1.0)
    limit = within("relearn_percent", relearn_percent, above=0.0)
    return RatioChange(before, after, change, np.abs(change) >= limit)


def gearing_change_percent(
    rear_before_mm: ArrayLike,
    rear_after_mm: ArrayLike,
    sprockets_before: Sprockets | None = None,
    sprockets_after: Sprockets | None = None,
) -> Array:
    """Compute how much faster in percent the bike goes at one engine speed in one gear than it did before.

    Positive is a longer gearing: a larger rear wheel, or fewer turns of the engine for one of the wheel. Sprockets are
    given both or not at all.

    Parameters
    ----------
    rear_before_mm, rear_after_mm : array_like
        Rear rolling radii on old and new tire in mm, above 0.
    sprockets_before, sprockets_after : Sprockets, optional
        The same sprockets before and after, if left out.

    Raises
    ------
    ValueError
        If a radius is not above 0, or sprockets are given for one time only.
    """
    if (sprockets_before is None) != (sprockets_after is None):
        raise ValueError(
            "sprockets_before and sprockets_after must be given both or not at all, not one of them"
        )
    faster = _radius("rear_after_mm", rear_after_mm) / _radius("rear_before_mm", rear_before_mm)
    if sprockets_before is not None and sprockets_after is not None:
        faster = faster * sprockets_before.reduction / sprockets_after.reduction
    return np.asarray(100.0 * (faster - 1.0))[()]


def nearest_sprockets(
    present: Sprockets,
    rear_before_mm: float,
    rear_after_mm: float,
    *,
    front_span: int = 1,
    rear_span: int = 3,
    choices: int = 3,
) -> tuple[SprocketChoice, ...]:
    """Return the sprockets that come nearest to the gearing before a change of the rear tire, best first.

    The present pair competes too: where it comes first, nothing within the span does better. Among equals the one with
    fewer teeth changed comes first. Whether the chain is long enough, and where the axle then stands, is not looked at.

    Parameters
    ----------
    present : Sprockets
    rear_before_mm, rear_after_mm : float
        Rear rolling radii, above 0.
    front_span, rear_span : int
        How many teeth more or fewer may be fitted, 0 to 20.
    choices : int
        How many to return at most, at least 1.

    Raises
    ------
    ValueError
        If a figure is outside its range or a radius is missing.
    """
    if np.isnan([rear_before_mm, rear_after_mm]).any():
        raise ValueError("rear_before_mm and rear_after_mm must be numbers, not nan")
    fronts = _teeth("front_span", present.front, front_span)
    rears = _teeth("rear_span", present.rear, rear_span)
    within("choices", choices, at_least=1)
    pairs = [Sprockets(front, rear) for front in fronts for rear in rears]
    offered = [
        SprocketChoice(
            sprockets=pair,
            teeth_changed=abs(pair.front - present.front) + abs(pair.rear - present.rear),
            left_over_percent=float(gearing_change_percent(rear_before_mm, rear_after_mm, present, pair)),
        )
        for pair in pairs
    ]
    offered.sort(key=lambda choice: (round(abs(choice.left_over_percent), 9), choice.teeth_changed))
    return tuple(offered[:choices])


def road_speed_kmh(engine_rpm: ArrayLike, rear_radius_mm: ArrayLike, total_reduction: ArrayLike) -> Array:
    """Compute the road speed in km/h at an engine speed, upright and without slip.

    Parameters
    ----------
    engine_rpm : array_like
        Turns of the engine in a minute, at least 0.
    rear_radius_mm : array_like
        Rear rolling radius, above 0.
    total_reduction : array_like
        Turns of the engine for one of the wheel (primary, gear and sprockets multiplied), above 0.

    Raises
    ------
    ValueError
        If a figure is outside its range.
    """
    rpm = within("engine_rpm", engine_rpm, at_least=0.0)
    turns_per_hour = 60.0 * rpm / within("total_reduction", total_reduction, above=0.0)
    return turns_per_hour * 2.0 * np.pi * _radius("rear_radius_mm", rear_radius_mm) / 1e6


def _radius(name: str, radius_mm: ArrayLike) -> Array:
    return within(name, radius_mm, above=0.0)


def _teeth(name: str, present: int, span: int) -> range:
    """Return the tooth counts within a span of the present one."""
    within(name, span, at_least=0, at_most=LARGEST_SPAN)
    return range(max(present - span, FEWEST_TEETH), min(present + span, MOST_TEETH) + 1)
