"""A day's tires by spec, as far as its organiser may know: on how many bikes, how they were set, whether they lasted, what they lost.

No rider is named. Tread belongs to the riders: it is told as one value a rider, as the middle half, from five riders on.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median, quantiles
from typing import Final

from fleet.catalogue.models import TireSpec
from fleet.events.models import Day, Entry
from fleet.inventory.models import Fitting
from fleet.life.day_wear import TireDay, tire_days
from fleet.life.yields import FEWEST_OTHERS
from fleet.pressures.afterwards import Promise, Use
from fleet.running.models import Stint

BANDS: Final = ((0.9, 1.01), (0.5, 0.9), (0.0, 0.5))
"""Chances to last a day, from likely to unlikely: 90 % and more, 50 to 90, under 50."""


@dataclass(frozen=True)
class Half:
    """The middle half of one value a rider: lower quartile, median, upper quartile."""

    riders: int
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class SpecUse:
    """What a day says about one spec.

    ``entered`` are the tires on entered bikes, ``ridden`` those a stint was logged on, ``ended`` those that came to their
    end. ``off_kpa`` is how far the hot readings lay off, with their number.
    """

    spec: TireSpec
    entered: int
    ridden: int
    ended: int
    off_kpa: float | None
    readings: int
    worn: Half | None
    expected: Half | None


@dataclass(frozen=True)
class Lasting:
    """The tires that were given a chance between two bounds to last the day, and how many did."""

    low: float
    high: float
    tires: int
    lasted: int
    expected: float


def ridden_on(day: Day, entries: Iterable[Entry]) -> list[TireDay]:
    """Return the day of each tire on the bikes of some entries on which a stint of that day was logged."""
    bikes = {entry.bike_id for entry in entries}
    stints = list(
        Stint.objects.filter(day=day, voided_at__isnull=True, wheel_pair__bike__in=bikes).values_list(
            "wheel_pair_id", "started_at"
        )
    )
    fittings = Fitting.objects.filter(wheel_pair__in={pair for pair, _ in stints}, voided_at__isnull=True)
    moments = defaultdict(list)
    for pair, started_at in stints:
        moments[pair].append(started_at)
    ran = {
        tire
        for tire, pair, fitted_at, removed_at in fittings.values_list(
            "tire_id", "wheel_pair_id", "fitted_at", "removed_at"
        )
        if any(fitted_at <= at and (removed_at is None or at < removed_at) for at in moments[pair])
    }
    return tire_days(ran, on=day.date, track=day.layout.track.code)


def lasting_of(days: Sequence[TireDay], ended: set[uuid.UUID]) -> list[Lasting]:
    """Return by the chance tires were given whether they lasted; bounds without a tire are left out."""
    found = []
    for low, high in BANDS:
        some = [one for one in days if one.chance is not None and low <= one.chance < high]
        if some:
            lasted = sum(one.tire.pk not in ended for one in some)
            chances = [one.chance for one in some if one.chance is not None]
            found.append(Lasting(low, min(high, 1.0), len(some), lasted, round(sum(chances), 1)))
    return found


def use_by_spec(
    used: Sequence[Use], days: Sequence[TireDay], promises: Sequence[Promise], ended: set[uuid.UUID]
) -> list[SpecUse]:
    """Return the specs on entered bikes and those ridden, front before rear, the most ridden first."""
    entered = {one.spec.pk: one.count for one in used}
    specs = {one.spec.pk: one.spec for one in used} | {one.tire.spec_id: one.tire.spec for one in days}
    off: dict[str, list[float]] = defaultdict(list)
    for promise in promises:
        off[promise.spec] += promise.off_kpa
    found = []
    for pk, spec in specs.items():
        own = [one for one in days if one.tire.spec_id == pk]
        read = off[spec.code]
        found.append(
            SpecUse(
                spec=spec,
                entered=entered.get(pk, 0),
                ridden=len(own),
                ended=sum(one.tire.pk in ended for one in own),
                off_kpa=median(read) if read else None,
                readings=len(read),
                worn=_half((one, one.worn_mm) for one in own),
                expected=_half((one, one.expected_mm[1] if one.expected_mm else None) for one in own),
            )
        )
    return sorted(found, key=lambda one: (one.spec.axle, -one.entered, -one.ridden, str(one.spec)))


def _half(values: Iterable[tuple[TireDay, float | None]]) -> Half | None:
    by_rider: dict[uuid.UUID, list[float]] = defaultdict(list)
    for one, value in values:
        if value is not None:
            by_rider[one.tire.owner_id].append(value)
    each = [median(some) for some in by_rider.values()]
    if len(each) < FEWEST_OTHERS:
        return None
    low, middle, high = quantiles(each, n=4, method="inclusive")
    return Half(len(each), low, middle, high)
