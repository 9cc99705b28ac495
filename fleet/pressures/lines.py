"""Bridge from the lines a day needs to the science that answers all of them in one call."""

import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from statistics import median
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from fleet.accounts.models import Person
from fleet.catalogue.models import TireSpec
from fleet.events.models import Conditions, Day, Entry, Group
from fleet.events.parts import DayPart
from fleet.garage.models import Instrument
from fleet.garage.queries import own_gauges
from fleet.inventory.models import Fitting
from fleet.life.learned import Learned
from fleet.life.usage import practice_for
from fleet.pressures.targets import WARMERS_C, targets_for
from fleet.science.heating import Rise, expected_rise
from fleet.science.hot_target import Target
from fleet.science.inflation import slope_kpa_per_c
from fleet.science.practice import AIR_AHEAD_SD_C, AIR_DRIFT_C_PER_H, PRESSURE_GAUGE_SD_KPA
from fleet.science.start_pressure import StartPressure, start_pressure
from fleet.science.units import KPA_PER_PSI

USUAL_SLOT_MIN: Final = 20.0  # common practice, no published source: taken where a group has no slot yet
BOARD_STEP_KPA: Final = 0.5 * KPA_PER_PSI
FINE_STEP_KPA: Final = 5.0
LEVEL: Final = 0.8
OFF_WARMERS_SD_C: Final = (
    6.0  # common practice, no published source: the gas lags the warmers' setting by as much
)


class Wanted(Protocol):
    """What a start pressure is wanted for: a spec, in whose slots, by whom, on which gauge."""

    @property
    def spec(self) -> TireSpec:
        """Return what is to be set."""

    @property
    def uses_warmers(self) -> bool:
        """Return whether it goes out off warmers."""

    @property
    def slot_of(self) -> uuid.UUID | None:
        """Return the group whose slots it runs in, where that is known."""

    @property
    def rider_code(self) -> str:
        """Return who rides on it; empty where nobody in particular does."""

    @property
    def air_sd_c(self) -> float:
        """Return how far the air may lie off the weather that is taken for it."""

    @property
    def step_kpa(self) -> float:
        """Return the step of the gauge."""

    @property
    def offset_kpa(self) -> float:
        """Return how much the gauge shows too high."""


@dataclass(frozen=True)
class Asked:
    """One line that is wanted for a part of the day: a spec in a group, or one entry's own tire with its rider and gauge."""

    part: DayPart
    group: Group
    spec: TireSpec
    uses_warmers: bool
    entry: Entry | None = None
    step_kpa: float = BOARD_STEP_KPA
    offset_kpa: float = 0.0

    @property
    def slot_of(self) -> uuid.UUID | None:
        """Return the group whose slots it runs in."""
        return self.group.pk

    @property
    def rider_code(self) -> str:
        """Return who rides on it; empty for a line of the board."""
        return self.entry.rider.code if self.entry else ""

    @property
    def air_sd_c(self) -> float:
        """Return how far the air may lie off: ahead, and over the hours of the part, evenly spread."""
        return math.hypot(AIR_AHEAD_SD_C, AIR_DRIFT_C_PER_H * self.part.hours_ridden / math.sqrt(12))


@dataclass(frozen=True)
class Computed:
    """The science's answers for all lines of a day, one entry per line."""

    target: Target
    rise: Rise
    pressure: StartPressure
    tire_c: NDArray[np.float64]


def lines_wanted(
    parts: Sequence[DayPart], entries: Sequence[Entry], mounted: dict[uuid.UUID, list[Fitting]]
) -> list[Asked]:
    """Return the lines a day needs in each part its groups ride in: one a spec, group and use of warmers, and one for each entered tire.

    A group without any time on track may ride in every part.
    """
    timed = set().union(*(part.groups for part in parts))
    gauges = own_gauges(entry.rider_id for entry in entries)
    asked = []
    for part in parts:
        riding = [entry for entry in entries if entry.group_id in part.groups or entry.group_id not in timed]
        asked += _of_part(part, riding, mounted, gauges)
    return asked


def _of_part(
    part: DayPart,
    entries: Sequence[Entry],
    mounted: dict[uuid.UUID, list[Fitting]],
    gauges: Mapping[uuid.UUID, Instrument],
) -> list[Asked]:
    board: dict[tuple[uuid.UUID, uuid.UUID, bool], Asked] = {}
    own = []
    for entry in entries:
        gauge = gauges.get(entry.rider_id)
        for fitting in mounted[entry.bike_id]:
            spec = fitting.tire.spec
            key = (entry.group_id, spec.pk, entry.uses_warmers)
            board.setdefault(key, Asked(part, entry.group, spec, entry.uses_warmers))
            own.append(
                Asked(
                    part=part,
                    group=entry.group,
                    spec=spec,
                    uses_warmers=entry.uses_warmers,
                    entry=entry,
                    step_kpa=step_for(entry, gauge),
                    offset_kpa=gauge.offset_kpa if gauge else 0.0,
                )
            )
    return [*board.values(), *own]


def step_for(entry: Entry, gauge: Instrument | None) -> float:
    """Return the step a rider's gauge can show."""
    return step_on(gauge, entry.rider.person)


def step_on(gauge: Instrument | None, person: Person | None) -> float:
    """Return the step a gauge can show: its own, or half a psi, or 5 kPa for who reads bar or kPa."""
    if gauge is not None and gauge.step_kpa:
        return gauge.step_kpa
    return BOARD_STEP_KPA if person is None or person.pressure_unit == "psi" else FINE_STEP_KPA


def compute(
    asked: Sequence[Wanted],
    *,
    day: Day,
    weather: Sequence[Conditions],
    heating: Learned,
    minutes: Mapping[uuid.UUID, float],
    set_at_c: Sequence[float] | None = None,
) -> Computed:
    """Return the start pressures of all lines, each under its own weather, in one call of the science.

    A tire is set at air temperature, or off its warmers, unless ``set_at_c`` says at which.
    """
    specs = [line.spec for line in asked]
    known = [practice_for(spec) for spec in specs]
    target = _targets(specs, weather, on=day.date)
    air_c = np.array([one.air_c for one in weather])
    codes = {
        "product": [spec.code for spec in specs],
        "track": [day.layout.track.code] * len(asked),
        "rider": [line.rider_code for line in asked],
    }
    rise = expected_rise(
        heating.pooled,
        practice=known,
        track_over_air_c=np.array([one.track_surface_c for one in weather]) - air_c,
        **{factor: heating.codes(factor, names) for factor, names in codes.items()},
    )
    warmers_c = np.array([WARMERS_C if line.uses_warmers else np.nan for line in asked])
    usual_c = np.where(np.isnan(warmers_c), air_c, warmers_c)
    tire_c = usual_c if set_at_c is None else np.array(set_at_c, dtype=np.float64)
    limits = [limits_of(spec) for spec in specs]
    pressure = start_pressure(
        target_kpa=target.hot_kpa,
        target_sd_kpa=target.sd_kpa,
        rise_mean_c=rise.mean_c,
        rise_sd_c=rise.sd_c,
        df=rise.df,
        air_c=air_c,
        air_sd_c=[line.air_sd_c for line in asked],
        tire_c=tire_c,
        tire_sd_c=np.where(tire_c == warmers_c, OFF_WARMERS_SD_C, 0.0),
        warmers_c=warmers_c,
        barometer_kpa=[one.barometer_kpa for one in weather],
        minutes_on_track=[_minutes(line, minutes) for line in asked],
        time_constant_min=rise.on_track_min,
        lower_kpa=[lower for lower, _ in limits],
        upper_kpa=[upper for _, upper in limits],
        step_kpa=[line.step_kpa for line in asked],
        gauge_offset_kpa=[line.offset_kpa for line in asked],
        setting_sd_kpa=PRESSURE_GAUGE_SD_KPA,
        level=LEVEL,
    )
    return Computed(target, rise, pressure, tire_c)


def _targets(specs: Sequence[TireSpec], weather: Sequence[Conditions], *, on: date) -> Target:
    """Return what each line needs hot, worked out once for each spec and weather."""
    keys = [(spec.pk, one.pk) for spec, one in zip(specs, weather, strict=True)]
    pairs = dict(zip(keys, zip(specs, weather, strict=True), strict=True))
    places = {key: place for place, key in enumerate(pairs)}
    found = targets_for(
        [spec for spec, _ in pairs.values()], conditions=[one for _, one in pairs.values()], on=on
    )
    index = [places[key] for key in keys]
    return Target(**{field.name: getattr(found, field.name)[index] for field in fields(Target)})


def limits_of(spec: TireSpec) -> tuple[float, float]:
    """Return the lowest and highest pressure the maker allows for a spec, by common practice where he names none."""
    known = practice_for(spec)
    return (
        known.lower_kpa if spec.lower_kpa is None else spec.lower_kpa,
        known.upper_kpa if spec.upper_kpa is None else spec.upper_kpa,
    )


def _minutes(line: Wanted, minutes: Mapping[uuid.UUID, float]) -> float:
    return minutes.get(line.slot_of, USUAL_SLOT_MIN) if line.slot_of else USUAL_SLOT_MIN


def slot_minutes(day: Day, groups: set[uuid.UUID]) -> dict[uuid.UUID, float]:
    """Return the usual length of each group's slots that day."""
    lengths: dict[uuid.UUID, list[float]] = {group: [] for group in groups}
    for slot in day.slots.filter(group__in=groups):
        lengths[slot.group_id].append((slot.ends_at - slot.starts_at).total_seconds() / 60)
    return {group: median(found) if found else USUAL_SLOT_MIN for group, found in lengths.items()}


def warmer_kpa_per_c(start_kpa: Sequence[float], conditions: Conditions) -> float | None:
    """Return how much more to set for each degree a tire is warmer than the air, the median of some lines.

    A tire in the sun or back from a session is not at air temperature, and its pressure follows the gas law.
    """
    if not start_kpa:
        return None
    slopes = slope_kpa_per_c(np.array(start_kpa), conditions.air_c, conditions.barometer_kpa)
    return round(float(np.median(slopes)), 4)
