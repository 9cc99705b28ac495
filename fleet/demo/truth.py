"""What really happens to the invented tires: the physics of the service itself, with effects it has to find out."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

import numpy as np

from fleet.demo.cast import Entrant
from fleet.demo.places import COLD_QUARRY, MARRAM, Moment, TrackDay
from fleet.demo.products import SPECS, Spec
from fleet.demo.scene import Scene
from fleet.science.inflation import gauge_after_kpa, start_gauge_kpa
from fleet.science.practice import (
    EFFORT_EXPONENT,
    RISE_PER_EFFORT_C,
    RISE_PER_TRACK_C,
    RISE_SD_C,
    RISE_SHARES,
    USUAL_EFFORT,
    USUAL_TRACK_OVER_AIR_C,
    WEAR_SHARES,
    WEAR_SIGMA,
)
from fleet.science.thermal import COOLING_MIN, ON_TRACK_MIN, WARMERS_MIN, relax_c

WARMERS_C: Final = 80.0
ON_WARMERS_MIN: Final = 60.0
ZONES: Final = {
    "front": {"L2": 0.55, "L1": 0.9, "C": 0.8, "R1": 1.0, "R2": 0.65},
    "rear": {"L2": 0.5, "L1": 0.85, "C": 1.0, "R1": 0.95, "R2": 0.6},
}


@dataclass
class Rubber:
    """One tire as it really is: what is left in each zone, how it wears, what gas it holds and how warm it is."""

    label: str
    spec: Spec
    wear_log: float
    new_mm: float
    worn_mm: dict[str, float]
    km: float = 0.0
    cycles: int = 0
    is_cold: bool = True
    gauge_kpa: float = 0.0
    gas_c: float = 0.0
    moment: datetime | None = None

    @property
    def left_mm(self) -> float:
        """Return the tread left where least is left."""
        return self.new_mm - max(self.worn_mm.values())


@dataclass
class Truth:
    """The effects of products, tracks and riders on heat and wear, drawn once."""

    scene: Scene
    rise_c: dict[str, float] = field(default_factory=dict)
    wear_log: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for factor, names in (
            ("product", [spec.code for spec in SPECS]),
            ("track", [MARRAM.code, COLD_QUARRY.code]),
        ):
            for name in names:
                self.rise_c[name] = self.scene.about(0, RISE_SD_C * RISE_SHARES[factor])
                self.wear_log[name] = self.scene.about(0, WEAR_SIGMA * WEAR_SHARES[factor])

    def new_rubber(self, label: str, spec: Spec) -> Rubber:
        """Return a new tire."""
        return Rubber(
            label=label,
            spec=spec,
            wear_log=self.scene.about(0, 0.12),
            new_mm=spec.known.new_depth_mm + min(max(self.scene.about(0, 0.1), -0.2), 0.15),
            worn_mm=dict.fromkeys(ZONES[spec.axle], 0.0),
        )

    def settled_c(self, rubber: Rubber, rider: Entrant, day: TrackDay, sky: Moment, effort: float) -> float:
        """Return the gas temperature a stint heads for."""
        return (
            sky.air_c
            + rubber.spec.known.settled_rise_c
            + self.rise_c[rubber.spec.code]
            + self.rise_c[day.place.track.code]
            + rider.rise_off_c
            + RISE_PER_TRACK_C[0] * (sky.surface_c - sky.air_c - USUAL_TRACK_OVER_AIR_C)
            + RISE_PER_EFFORT_C[0] * (effort - USUAL_EFFORT)
            + self.scene.about(0, 2.5)
        )

    def rest(self, rubber: Rubber, moment: datetime, sky: Moment, *, on_warmers: bool) -> None:
        """Let a tire stand until a moment: it cools, and comes onto the warmers for the last hour."""
        passed = 24 * 60.0 if rubber.moment is None else (moment - rubber.moment).total_seconds() / 60
        warmed = min(passed, ON_WARMERS_MIN) if on_warmers else 0.0
        cooled = float(relax_c(rubber.gas_c, sky.air_c, passed - warmed, COOLING_MIN))
        now_c = float(relax_c(cooled, WARMERS_C, warmed, WARMERS_MIN)) if warmed else cooled
        if rubber.gauge_kpa:
            rubber.gauge_kpa = float(
                gauge_after_kpa(rubber.gauge_kpa, rubber.gas_c, now_c, sky.barometer_kpa)
            )
        rubber.is_cold |= cooled <= rubber.spec.known.cooled_c
        rubber.gas_c, rubber.moment = now_c, moment

    def ride(
        self,
        rubber: Rubber,
        rider: Entrant,
        day: TrackDay,
        sky: Moment,
        *,
        ended_at: datetime,
        length: float,
        km: float,
        effort: float,
    ) -> None:
        """Run a tire for some minutes and kilometres: it heats up, and it wears."""
        toward = self.settled_c(rubber, rider, day, sky, effort)
        hot_c = float(relax_c(rubber.gas_c, toward, length, ON_TRACK_MIN))
        rubber.gauge_kpa = float(gauge_after_kpa(rubber.gauge_kpa, rubber.gas_c, hot_c, sky.barometer_kpa))
        rubber.gas_c, rubber.moment = hot_c, ended_at
        rate = rubber.spec.known.wear_median_mm_per_1000km * np.exp(
            self.wear_log[rubber.spec.code]
            + self.wear_log[day.place.track.code]
            + rider.wear_log
            + rubber.wear_log
        )
        worn = rate * km / 1000 * (effort / USUAL_EFFORT) ** EFFORT_EXPONENT
        for zone, share in ZONES[rubber.spec.axle].items():
            rubber.worn_mm[zone] = min(rubber.worn_mm[zone] + share * float(worn), rubber.new_mm - 0.1)
        rubber.km += km
        if rubber.is_cold and hot_c >= rubber.spec.known.working_c:
            rubber.cycles += 1
            rubber.is_cold = False


def cold_kpa(hot_kpa: float, rise_c: float, set_c: float, sky: Moment) -> float:
    """Return the pressure to set for a hot one, if the gas gets so much warmer than the air."""
    return float(start_gauge_kpa(hot_kpa, sky.air_c + rise_c, set_c, sky.barometer_kpa))


def later_kpa(rubber: Rubber, passed_min: float, sky: Moment) -> float:
    """Return what a tire reads some minutes after it came in."""
    cooled = float(relax_c(rubber.gas_c, sky.air_c, passed_min, COOLING_MIN))
    return float(gauge_after_kpa(rubber.gauge_kpa, rubber.gas_c, cooled, sky.barometer_kpa))
