"""Bridge from the lines a day needs to the science that answers all of them in one call."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fleet.catalogue.models import TireSpec
from fleet.events.models import Conditions, Day, Entry, Group
from fleet.garage.models import Instrument
from fleet.garage.queries import own_gauges
from fleet.inventory.models import Fitting
from fleet.life.learned import Learned
from fleet.life.usage import practice_for
from fleet.pressures.targets import WARMERS_C, targets_for
from fleet.science.heating import Rise, expected_rise
from fleet.science.inflation import slope_kpa_per_c
from fleet.science.start_pressure import StartPressure, Target, start_pressure
from fleet.science.units import KPA_PER_PSI

USUAL_SLOT_MIN: Final = 20.0  # common practice, no published source: taken where a group has no slot yet
BOARD_STEP_KPA: Final = 0.5 * KPA_PER_PSI
FINE_STEP_KPA: Final = 5.0
LEVEL: Final = 0.8
OFF_WARMERS_SD_C: Final = (
    6.0  # common practice, no published source: the gas lags the warmers' setting by as much
)


@dataclass(frozen=True)
class Asked:
    """One line that is wanted: a spec in a group, or one entry's own tire with its rider and gauge."""

    group: Group
    spec: TireSpec
    uses_warmers: bool
    entry: Entry | None = None
    step_kpa: float = BOARD_STEP_KPA
    offset_kpa: float = 0.0


@dataclass(frozen=True)
class Computed:
    """The science's answers for all lines of a day, one entry per line."""

    target: Target
    rise: Rise
    pressure: StartPressure
    tire_c: NDArray[np.float64]


def lines_wanted(entries: Sequence[Entry], mounted: dict[uuid.UUID, list[Fitting]]) -> list[Asked]:
    """Return the lines a day needs: one a spec, group and use of warmers, and one for each entered tire."""
    gauges = own_gauges(entry.rider_id for entry in entries)
    board: dict[tuple[uuid.UUID, uuid.UUID, bool], Asked] = {}
    own = []
    for entry in entries:
        gauge = gauges.get(entry.rider_id)
        for fitting in mounted[entry.bike_id]:
            spec = fitting.tire.spec
            key = (entry.group_id, spec.pk, entry.uses_warmers)
            board.setdefault(key, Asked(entry.group, spec, entry.uses_warmers))
            own.append(
                Asked(
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
    """Return the step a rider's gauge can show: its own, or half a psi, or 5 kPa for who reads bar or kPa."""
    if gauge is not None and gauge.step_kpa:
        return gauge.step_kpa
    person = entry.rider.person
    return BOARD_STEP_KPA if person is None or person.pressure_unit == "psi" else FINE_STEP_KPA


def compute(
    asked: Sequence[Asked],
    *,
    day: Day,
    conditions: Conditions,
    heating: Learned,
    minutes: dict[uuid.UUID, float],
) -> Computed:
    """Return the start pressures of all lines under some conditions, in one call of the science."""
    specs = [line.spec for line in asked]
    known = [practice_for(spec) for spec in specs]
    target = targets_for(specs, conditions=conditions, on=day.date)
    codes = {
        "product": [spec.code for spec in specs],
        "track": [day.layout.track.code] * len(asked),
        "rider": [line.entry.rider.code if line.entry else "" for line in asked],
    }
    rise = expected_rise(
        heating.pooled,
        practice=known,
        track_over_air_c=conditions.track_surface_c - conditions.air_c,
        **{factor: heating.codes(factor, names) for factor, names in codes.items()},
    )
    warmers_c = np.array([WARMERS_C if line.uses_warmers else np.nan for line in asked])
    tire_c = np.where(np.isnan(warmers_c), conditions.air_c, warmers_c)
    off_warmers = slope_kpa_per_c(target.hot_kpa, tire_c, conditions.barometer_kpa) * OFF_WARMERS_SD_C
    pressure = start_pressure(
        target_kpa=target.hot_kpa,
        target_sd_kpa=np.where(np.isnan(warmers_c), target.sd_kpa, np.hypot(target.sd_kpa, off_warmers)),
        rise_mean_c=rise.mean_c,
        rise_sd_c=rise.sd_c,
        df=rise.df,
        air_c=conditions.air_c,
        tire_c=tire_c,
        warmers_c=warmers_c,
        barometer_kpa=conditions.barometer_kpa,
        minutes_on_track=[minutes[line.group.pk] for line in asked],
        lower_kpa=[
            one.lower_kpa if spec.lower_kpa is None else spec.lower_kpa
            for spec, one in zip(specs, known, strict=True)
        ],
        upper_kpa=[
            one.upper_kpa if spec.upper_kpa is None else spec.upper_kpa
            for spec, one in zip(specs, known, strict=True)
        ],
        step_kpa=[line.step_kpa for line in asked],
        gauge_offset_kpa=[line.offset_kpa for line in asked],
        level=LEVEL,
    )
    return Computed(target, rise, pressure, tire_c)


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
