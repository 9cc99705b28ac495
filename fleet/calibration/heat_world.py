"""A truth about hot tires that is richer than the model that has to learn it.

Tread and gas are two masses with time constants of their own for each product; weather comes in gusts and clouds;
riders push or rest and change their mind from lap to lap; a soft tire flexes itself hotter; gauges show too much or too
little, and not everybody has had his compared; readings come late, with their time mistaken, or not at all. The sizes
of all this are choices: common practice, no published source. One entry per tire in every array.
"""

from dataclasses import dataclass, replace
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from fleet.science.practice import (
    RISE_PER_EFFORT_C,
    RISE_PER_TRACK_C,
    USUAL_EFFORT,
    USUAL_TRACK_OVER_AIR_C,
    Practice,
    practice,
)
from fleet.science.units import KPA_PER_PSI

Array = NDArray[np.float64]
Kind = TypeVar("Kind", bound=np.generic)

STEP_MIN: Final = 0.5
LAP_MIN, GUST_MIN, CLOUD_MIN = 2.0, 15.0, 25.0
"""How long a rider's pace, a gust and a cloud last."""

FLEX_C_PER_KPA: Final = 0.04
RIDERS: Final = 24
KINDS: Final = (("track_day", "medium"), ("race_treaded", "stiff"), ("track_day", "soft"))
PRODUCTS: Final[tuple[Practice, ...]] = tuple(
    practice(category, carcass, axle) for category, carcass in KINDS for axle in ("front", "rear")
)
BAROMETERS_KPA: Final = (101.2, 85.2, 97.0)
MAKER_HOT_KPA: Final = np.array([known.hot_target_kpa for known in PRODUCTS])


@dataclass(frozen=True)
class Size:
    """How large the disturbances are; temperatures in degrees C, pressures in kPa, each a standard deviation."""

    product_c: float = 4.5
    track_c: float = 2.7
    rider_c: float = 2.5
    gust_c: float = 0.7
    effort_in_stint: float = 0.05
    constant_log: float = 0.2
    gauge_kpa: float = 1.2
    unknown_offset_kpa: float = 3.0
    compared_share: float = 0.8
    missed_share: float = 0.3
    mistaken_share: float = 0.03
    cut_short_share: float = 0.12
    half_psi_share: float = 0.7
    takes_temperature_share: float = 0.6
    effort_told_share: float = 0.7

    def times(self, factor: float) -> "Size":
        """Return disturbances larger or smaller by a factor; the shares stay."""
        grown = {name: size * factor for name, size in vars(self).items() if not name.endswith("_share")}
        return replace(self, **grown)


@dataclass(frozen=True)
class Weather:
    """A day by half minutes: air and track over air in degrees C."""

    air_c: Array
    track_over_air_c: Array

    def at(self, minute: float) -> tuple[float, float]:
        """Return air and track over air at a minute of the day."""
        place = min(int(minute / STEP_MIN), len(self.air_c) - 1)
        return float(self.air_c[place]), float(self.track_over_air_c[place])


@dataclass(frozen=True)
class Riders:
    """Who rides what, one entry per rider; offsets are what a gauge shows too much, and what is known of it, in kPa."""

    departure_c: Array
    pace: Array
    offset_kpa: Array
    known_offset_kpa: Array
    step_kpa: Array
    takes_temperature: NDArray[np.bool_]


@dataclass(frozen=True)
class World:
    """The truth of one season."""

    size: Size
    departure_c: Array
    track_c: Array
    tread_min: Array
    gas_min: Array
    cooling_min: Array
    riders: Riders

    def settled_c(self, product: NDArray[np.intp], track: int, rider: NDArray[np.intp]) -> Array:
        """Return the rise each tire's tread heads for on a usual day at usual effort, in degrees C over the air."""
        usual = np.array([known.settled_rise_c for known in PRODUCTS])[product]
        return np.asarray(
            usual + self.departure_c[product] + self.track_c[track] + self.riders.departure_c[rider],
            dtype=np.float64,
        )


def draw_world(rng: np.random.Generator, size: Size) -> World:
    """Return the truth of one season."""
    products, tracks = len(PRODUCTS), len(BAROMETERS_KPA)
    is_compared = rng.random(RIDERS) < size.compared_share
    offset = rng.normal(0.0, size.unknown_offset_kpa, RIDERS)
    riders = Riders(
        departure_c=rng.normal(0.0, size.rider_c, RIDERS),
        pace=rng.normal(USUAL_EFFORT, 0.04, RIDERS),
        offset_kpa=offset,
        known_offset_kpa=np.where(is_compared, offset + rng.normal(0.0, 0.7, RIDERS), 0.0),
        step_kpa=np.where(rng.random(RIDERS) < size.half_psi_share, 0.5 * KPA_PER_PSI, 5.0),
        takes_temperature=rng.random(RIDERS) < size.takes_temperature_share,
    )
    spread = np.exp(rng.normal(0.0, size.constant_log, (3, products)))
    return World(
        size=size,
        departure_c=rng.normal(0.0, size.product_c, products),
        track_c=rng.normal(0.0, size.track_c, tracks),
        tread_min=3.5 * spread[0],
        gas_min=2.5 * spread[1],
        cooling_min=17.0 * spread[2],
        riders=riders,
    )


def draw_weather(rng: np.random.Generator, minutes: int, size: Size) -> Weather:
    """Return one day's weather: a warm noon, gusts that come and go, clouds that shade the track."""
    steps = int(minutes / STEP_MIN)
    hour = np.linspace(0.0, 1.0, steps)
    noon = np.sin(np.pi * (0.15 + 0.75 * hour))
    air = (
        rng.normal(19.0, 6.0)
        + rng.uniform(4.0, 10.0) * noon
        + size.gust_c * _wander(rng, steps, GUST_MIN, 1)[:, 0]
    )
    cloud = 1.0 / (1.0 + np.exp(-(rng.normal(0.0, 1.5) + 1.2 * _wander(rng, steps, CLOUD_MIN, 1)[:, 0])))
    return Weather(air, 26.0 * noon * (1.0 - 0.75 * cloud))


def _wander(rng: np.random.Generator, steps: int, memory_min: float, width: int) -> Array:
    """Return noise of standard deviation one that forgets itself over some minutes, shape (steps, width)."""
    keep = np.exp(-STEP_MIN / memory_min)
    wandering = rng.standard_normal((steps, width))
    for step in range(1, steps):
        wandering[step] = keep * wandering[step - 1] + np.sqrt(1.0 - keep * keep) * wandering[step]
    return wandering


@dataclass(frozen=True)
class Ride:
    """A round on track, one entry per tire; the first half are the front tires, the second the same bikes' rears.

    ``under_kpa`` is how far each tire was set under the pressure that would have been right.
    """

    at_min: float
    track: int
    product: NDArray[np.intp]
    rider: NDArray[np.intp]
    effort: Array
    minutes: Array
    under_kpa: Array


@dataclass(frozen=True)
class Heat:
    """Temperatures of tread and gas, one entry per tire, in degrees C."""

    tread_c: Array
    gas_c: Array

    def warmed(self, by_c: Array) -> "Heat":
        """Return the tires warmer throughout, as by the sun."""
        return Heat(self.tread_c + by_c, self.gas_c + by_c)


def per_bike(column: NDArray[Kind]) -> NDArray[Kind]:
    """Return one entry per tire, fronts first, from one entry per bike."""
    return np.tile(column, 2)


def ride(rng: np.random.Generator, world: World, weather: Weather, out: Ride, heat: Heat) -> Heat:
    """Return the temperatures at the pit entry from those at the pit exit."""
    steps = int(out.minutes.max() / STEP_MIN)
    laps = _wander(rng, steps, LAP_MIN, len(out.product) // 2)
    base = world.settled_c(out.product, out.track, out.rider) + FLEX_C_PER_KPA * out.under_kpa
    keep_tread, keep_gas = (
        np.exp(-STEP_MIN / constant[out.product]) for constant in (world.tread_min, world.gas_min)
    )
    tread, gas = heat.tread_c, heat.gas_c
    for step in range(steps):
        air, over = weather.at(out.at_min + step * STEP_MIN)
        pace = out.effort + world.size.effort_in_stint * per_bike(laps[step])
        # Heat grows faster than pace: with its square, as steep as the model's straight line at usual effort.
        push = RISE_PER_EFFORT_C[0] * (np.square(pace) - USUAL_EFFORT**2) / (2.0 * USUAL_EFFORT)
        toward = air + base + push + RISE_PER_TRACK_C[0] * (over - USUAL_TRACK_OVER_AIR_C)
        is_out = step * STEP_MIN < out.minutes
        tread = np.where(is_out, toward + (tread - toward) * keep_tread, tread)
        gas = np.where(is_out, tread + (gas - tread) * keep_gas, gas)
    return Heat(tread, gas)


def stand(world: World, product: NDArray[np.intp], heat: Heat, air_c: float, minutes: Array) -> Heat:
    """Return the temperatures after some minutes in the paddock: tread and gas even out while both cool."""
    mean, half = 0.5 * (heat.tread_c + heat.gas_c), 0.5 * (heat.tread_c - heat.gas_c)
    mean = air_c + (mean - air_c) * np.exp(-minutes / world.cooling_min[product])
    half = half * np.exp(-minutes / world.gas_min[product])
    return Heat(mean + half, mean - half)
