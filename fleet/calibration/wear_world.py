"""A truth about tread that is richer than the model that has to learn it.

Wear is not straight: it slows or quickens over a tire's life, is another every day, and grows with effort to a power of
the tire's own. The zones wear at different rates. Whoever reads the depth reads it a little high or low, to a tenth of a
millimeter, now and then in the wrong zone, and not after every day; some stints are never logged. The sizes of all this
are choices: common practice, no published source. Arrays are (tires, days) or (tires, days, zones).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fleet.science.practice import USUAL_EFFORT, Practice, practice

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Codes = NDArray[np.intp]

KINDS: Final = (("road_sport", "medium"), ("track_day", "medium"), ("race_treaded", "stiff"))
PRODUCTS: Final[tuple[Practice, ...]] = tuple(
    practice(category, carcass, axle) for category, carcass in KINDS for axle in ("front", "rear")
)
TRACKS: Final = 4
RIDERS: Final = 30
DAYS: Final = 45
ZONES: Final = 5
LOWEST_RATE_SHARE: Final = 0.3


@dataclass(frozen=True)
class Size:
    """How large the disturbances are; logarithms, mm and shares, each a standard deviation where not a share."""

    product_log: float = 0.28
    track_log: float = 0.18
    rider_log: float = 0.2
    tire_log: float = 0.1
    day_log: float = 0.15
    bend_mean: float = 0.05
    bend: float = 0.25
    new_mm: float = 0.2
    gauge_mm: float = 0.15
    reader_mm: float = 0.1
    day_km_log: float = 0.28
    read_share: float = 0.6
    mixed_up_share: float = 0.01
    unlogged_share: float = 0.05
    effort_told_share: float = 0.6


@dataclass(frozen=True)
class World:
    """The truth of one fleet: logarithms of what multiplies the wear of practice, and who rides how far and hard."""

    size: Size
    product: Array
    track: Array
    rider: Array
    day_km: Array
    pace: Array


@dataclass(frozen=True)
class Tires:
    """Tires from new to long past their end, day by day, and what is on record about them.

    ``depth_mm`` is the truth after each day; ``read_mm`` what was read, NaN where nothing was.
    """

    product: Codes
    rider: Codes
    track: Codes
    depth_mm: Array
    read_mm: Array
    logged_km: Array
    logged_effort: Array

    @property
    def known(self) -> list[Practice]:
        """Return practice for each tire."""
        return [PRODUCTS[code] for code in self.product]


def draw_world(rng: np.random.Generator, size: Size) -> World:
    """Return the truth of one fleet."""
    return World(
        size,
        rng.normal(0.0, size.product_log, len(PRODUCTS)),
        rng.normal(0.0, size.track_log, TRACKS),
        rng.normal(0.0, size.rider_log, RIDERS),
        110.0 * np.exp(rng.normal(0.0, 0.25, RIDERS)),
        rng.normal(USUAL_EFFORT, 0.03, RIDERS),
    )


def draw_tires(rng: np.random.Generator, world: World, count: int) -> Tires:
    """Return some tires of the fleet with their whole lives."""
    size = world.size
    product, rider = rng.integers(0, len(PRODUCTS), count), rng.integers(0, RIDERS, count)
    track = rng.integers(0, TRACKS, (count, DAYS))
    effort = world.pace[rider][:, None] + rng.choice([-0.1, 0.0, 0.05], (count, DAYS), p=[0.2, 0.6, 0.2])
    day_km = world.day_km[rider][:, None] * np.exp(rng.normal(0.0, size.day_km_log, (count, DAYS)))
    depth = _depths(rng, world, product=product, rider=rider, track=track, effort=effort, day_km=day_km)
    is_told = rng.random((count, DAYS)) < size.effort_told_share
    return Tires(
        product=product,
        rider=rider,
        track=track,
        depth_mm=depth,
        read_mm=_read(rng, size, depth),
        logged_km=day_km * np.where(rng.random((count, DAYS)) < 4.0 * size.unlogged_share, 0.75, 1.0),
        logged_effort=np.where(is_told, effort + rng.normal(0.0, 0.03, (count, DAYS)), np.nan),
    )


def _depths(
    rng: np.random.Generator,
    world: World,
    *,
    product: Codes,
    rider: Codes,
    track: Codes,
    effort: Array,
    day_km: Array,
) -> Array:
    """Return the true depth after each day, (tires, days, zones), running on under the limit and never below nothing."""
    size, count = world.size, len(product)
    known = [PRODUCTS[code] for code in product]
    usual = np.array([one.wear_median_mm_per_1000km for one in known])
    own = world.product[product] + world.rider[rider] + rng.normal(0.0, size.tire_log, count)
    power = rng.uniform(2.0, 4.0, count)[:, None]  # the published range of wear against cornering force
    by_day = (
        world.track[track]
        + power * np.log(effort / USUAL_EFFORT)
        + rng.normal(0.0, size.day_log, track.shape)
    )
    worn = day_km / 1000.0 * (usual * np.exp(own))[:, None] * np.exp(by_day)
    zones = np.sort(rng.uniform(0.5, 1.0, (count, ZONES)), axis=1)
    zones[:, -1] = 1.0
    rng.permuted(zones, axis=1, out=zones)
    new = np.array([one.new_depth_mm for one in known]) + rng.normal(0.0, size.new_mm, count)
    room = new - np.array([one.wear_limit_mm for one in known])
    bend = rng.normal(size.bend_mean, size.bend, count)
    lost, depths = np.zeros((count, ZONES)), np.empty((count, DAYS, ZONES))
    for day in range(DAYS):
        # Over a life the rate goes from 1 + bend to 1 - bend times the tire's own.
        rate = np.maximum(1.0 + bend[:, None] * (1.0 - 2.0 * lost / room[:, None]), LOWEST_RATE_SHARE)
        lost = lost + worn[:, day, None] * zones * rate
        depths[:, day] = np.maximum(new[:, None] - lost, 0.0)
    return depths


def _read(rng: np.random.Generator, size: Size, depth: Array) -> Array:
    """Return what was read after each day: by different hands, to a tenth, with zones mixed up now and then."""
    count = len(depth)
    is_read = rng.random((count, DAYS, 1)) < size.read_share
    hand = rng.normal(0.0, size.reader_mm, (count, DAYS, 1))
    read = depth + hand + rng.normal(0.0, size.gauge_mm, depth.shape)
    is_mixed_up = rng.random((count, DAYS, 1)) < size.mixed_up_share
    read = np.where(is_mixed_up, read[:, :, ::-1], read)
    return np.where(is_read, np.maximum(np.round(read, 1), 0.0), np.nan)
