"""Bridge to the science of lives: the sets of tests followed until they are removed, and specs compared by them."""

import math
import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from fleet.catalogue.models import AXLES, TireSpec
from fleet.inventory.models import Fitting, Removal
from fleet.running.models import Stint
from fleet.science.product_life import LifeDifference, compare
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import sets_of_each

LEVEL_OF_DOUBT: Final = 0.05
"""Chance of so large a difference by luck alone, from which on two specs are not told apart (log-rank test)."""

FEWEST_SETS: Final = 2
"""Sets of each spec from which their lives are compared at all; the intervals say how little that is."""


@dataclass(frozen=True)
class Followed:
    """One tire of a test from its first fitting on: what it ran, and how it ended where it did."""

    fitting: uuid.UUID
    side: str
    axle: str
    spec: TireSpec
    fitted_at: datetime
    removed_at: datetime | None
    reason: str
    is_worn: bool
    track_km: float
    road_km: float
    days: int

    @property
    def is_on(self) -> bool:
        """Return whether the tire is still on the wheel."""
        return self.removed_at is None


@dataclass(frozen=True)
class SpecLives:
    """What all tests together know of one spec."""

    spec: TireSpec
    tires: tuple[Followed, ...]

    @property
    def worn(self) -> int:
        """Return how many were worn out."""
        return sum(one.is_worn for one in self.tires)

    @property
    def longest_km(self) -> float:
        """Return what the longest one ran on track."""
        return max(one.track_km for one in self.tires)

    @property
    def shortest_km(self) -> float:
        """Return what the shortest one ran on track."""
        return min(one.track_km for one in self.tires)


@dataclass(frozen=True)
class SpecDifference:
    """How much longer one spec runs than another, in km on track up to the distance both were seen to."""

    first: SpecLives
    second: SpecLives
    found: LifeDifference

    @property
    def mean_km(self) -> float:
        """Return how much longer the second one runs on average; below 0 it is the shorter."""
        return float(self.found.mean_difference.value)

    @property
    def low_km(self) -> float:
        """Return the lower end of the interval."""
        return float(self.found.mean_difference.low)

    @property
    def high_km(self) -> float:
        """Return the upper end of the interval."""
        return float(self.found.mean_difference.high)

    @property
    def is_known(self) -> bool:
        """Return whether the sets allow a difference and an interval at all."""
        return sum(self.found.worn) > 0 and not any(
            math.isnan(value) for value in (self.mean_km, self.low_km, self.high_km)
        )

    @property
    def says(self) -> str:
        """Return in plain words what the sets say."""
        if not self.is_known:
            return "Too few sets were worn out to tell them apart."
        if not self.found.p_value < LEVEL_OF_DOUBT:
            return "The sets seen so far do not tell the two apart."
        longer = self.second if self.found.worn[0] > self.found.expected[0] else self.first
        return f"{longer.spec} lasts longer."


def followed_of(test: TireTest) -> list[Followed]:
    """Return the tires of both sets of a test with what they ran since they were fitted."""
    return followed_of_each([test])[test.pk]


def followed_of_each(tests: Sequence[TireTest]) -> dict[uuid.UUID, list[Followed]]:
    """Return the same for each of some tests, in a fixed number of queries."""
    sets = sets_of_each(tests)
    fittings = [row for sides in sets.values() for one in sides.values() for row in one.fittings.values()]
    ridden: dict[uuid.UUID, list[Stint]] = defaultdict(list)
    stints = Stint.objects.filter(
        wheel_pair__in={row.wheel_pair_id for row in fittings}, voided_at__isnull=True
    )
    for stint in stints.select_related("layout__track").order_by("started_at", "id"):
        ridden[stint.wheel_pair_id].append(stint)
    removals = Removal.objects.filter(fitting__in=fittings, voided_at__isnull=True)
    removed = {row.fitting_id: row for row in removals}
    return {
        pk: [
            _followed(side, axle, row, ridden[row.wheel_pair_id], removed.get(row.pk))
            for side, one in sides.items()
            for axle in AXLES
            if (row := one.fittings.get(axle)) is not None
        ]
        for pk, sides in sets.items()
    }


def came_off_at(followed: Sequence[Followed]) -> datetime | None:
    """Return when the last tire of the candidate set came off; nothing while one is still on, or none was fitted."""
    moments = [one.removed_at for one in followed if one.side == Side.CANDIDATE.label]
    known = [moment for moment in moments if moment is not None]
    return max(known) if known and len(known) == len(moments) else None


def lives_by_spec(tests: Sequence[TireTest]) -> list[SpecLives]:
    """Return what some tests know of each spec; a tire that two tests follow counts once."""
    seen: dict[uuid.UUID, Followed] = {}
    for followed in followed_of_each(tests).values():
        for one in followed:
            seen[one.fitting] = one
    by_spec: dict[TireSpec, list[Followed]] = defaultdict(list)
    for one in seen.values():
        by_spec[one.spec].append(one)
    found = [SpecLives(spec, tuple(tires)) for spec, tires in by_spec.items()]
    return sorted(found, key=lambda one: (one.spec.axle, str(one.spec)))


def differences_between(lives: Sequence[SpecLives]) -> list[SpecDifference]:
    """Return every pair of specs of one axle with enough sets each, compared over the km they ran on track."""
    enough = [one for one in lives if sum(tire.track_km > 0 for tire in one.tires) >= FEWEST_SETS]
    return [
        _difference(first, second)
        for place, first in enumerate(enough)
        for second in enough[place + 1 :]
        if first.spec.axle == second.spec.axle
    ]


def _difference(first: SpecLives, second: SpecLives) -> SpecDifference:
    tires = [
        (one, is_second)
        for is_second, lives in enumerate((first, second))
        for one in lives.tires
        if one.track_km
    ]
    found = compare(
        [one.track_km for one, _ in tires],
        [one.is_worn for one, _ in tires],
        [bool(is_second) for _, is_second in tires],
    )
    return SpecDifference(first, second, found)


def _followed(
    side: str, axle: str, fitting: Fitting, stints: Sequence[Stint], removal: Removal | None
) -> Followed:
    off = fitting.removed_at
    ridden = [
        one for one in stints if one.started_at >= fitting.fitted_at and (off is None or one.ended_at <= off)
    ]
    return Followed(
        fitting=fitting.pk,
        side=str(Side(side).label),
        axle=axle,
        spec=fitting.tire.spec,
        fitted_at=fitting.fitted_at,
        removed_at=fitting.removed_at,
        reason=removal.get_reason_display() if removal else "",
        is_worn=removal is not None and removal.reason == Removal.Reason.WORN,
        track_km=sum(one.distance_km for one in ridden if not one.is_on_road),
        road_km=sum(one.distance_km for one in ridden if one.is_on_road),
        days=len({_day_of(one) for one in ridden if not one.is_on_road}),
    )


def _day_of(stint: Stint) -> object:
    zone = stint.layout.track.time_zone if stint.layout else "UTC"
    return stint.started_at.astimezone(ZoneInfo(zone)).date()
