"""Bridge to the start pressures of the wheels at hand: for this rider, this tire, this weather, at the tire's temperature now.

A figure of the day's guidance is carried to another temperature of the tire; where the guidance has no line for a tire,
it is computed for it alone. The learned model is the stored one: learning the morning's readings too takes seconds.
"""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fleet.catalogue.models import TireSpec
from fleet.events.models import Conditions, Day, Entry
from fleet.events.queries import conditions_in_force
from fleet.garage.models import Instrument, Rider
from fleet.life.learned import newest
from fleet.life.models import LearnedModel
from fleet.pressures.followed import follow, limits_around, set_by_hand
from fleet.pressures.guidance import figures_of
from fleet.pressures.lines import BOARD_STEP_KPA, compute, limits_of, slot_minutes, step_on
from fleet.pressures.models import GuidanceLine
from fleet.pressures.queries import bulletin_in_force
from fleet.science.practice import AIR_AHEAD_SD_C
from fleet.science.start_pressure import shown_kpa

COLDEST_C: Final = -10.0
HOTTEST_C: Final = 90.0
"""Between these a tire's pressure is set: from a frosty morning to off the warmers."""


@dataclass(frozen=True)
class AtWheel:
    """One tire at hand."""

    spec: TireSpec
    uses_warmers: bool
    rider_code: str
    slot_of: uuid.UUID | None = None
    step_kpa: float = BOARD_STEP_KPA
    offset_kpa: float = 0.0
    air_sd_c: float = AIR_AHEAD_SD_C


@dataclass(frozen=True)
class Ground:
    """What start pressures rest on: the day and its weather, and who rides in whose slots."""

    day: Day
    conditions: Conditions
    rider: Rider
    at: datetime
    entry: Entry | None = None

    def tire(self, spec: TireSpec, gauge: Instrument | None = None) -> AtWheel:
        """Return a tire of this rider's, to be set on a gauge."""
        return AtWheel(
            spec=spec,
            uses_warmers=self.entry is not None and self.entry.uses_warmers,
            rider_code=self.rider.code,
            slot_of=self.entry.group_id if self.entry else None,
            step_kpa=step_on(gauge, self.rider.person),
            offset_kpa=gauge.offset_kpa if gauge else 0.0,
        )

    def minutes(self) -> dict[uuid.UUID, float]:
        """Return the usual length of the rider's slots."""
        return slot_minutes(self.day, {self.entry.group_id}) if self.entry else {}


@dataclass(frozen=True)
class Starts:
    """True start pressures of one tire by its temperature while it is set, and its limits."""

    line: GuidanceLine
    tire_c: NDArray[np.float64]
    start_kpa: NDArray[np.float64]
    lower_kpa: float
    upper_kpa: float

    def shown_on(self, gauge: Instrument | None, step_kpa: float) -> NDArray[np.float64]:
        """Return what a gauge shows of each, within the limits and on its step."""
        return shown_kpa(
            self.start_kpa,
            lower_kpa=self.lower_kpa,
            upper_kpa=self.upper_kpa,
            step_kpa=step_kpa,
            gauge_offset_kpa=gauge.offset_kpa if gauge else 0.0,
        )


def ground_for(rider: Rider, *, entry: Entry | None, day: Day | None, at: datetime) -> Ground | None:
    """Return what a rider's start pressures rest on; nothing where there is no day, or no weather for it."""
    day = entry.day if entry else day
    conditions = conditions_in_force(day, at=at) if day else None
    return Ground(day, conditions, rider, at, entry) if day and conditions else None


def lines_at(ground: Ground, specs: Sequence[TireSpec], gauge: Instrument | None) -> dict[str, GuidanceLine]:
    """Return by axle the lines of tires for which the day's guidance has none, as the rider's gauge shows them; not stored."""
    wheels = [ground.tire(spec, gauge) for spec in specs]
    if not wheels:
        return {}
    now = compute(
        wheels,
        day=ground.day,
        weather=[ground.conditions] * len(wheels),
        heating=newest(LearnedModel.Subject.HEATING),
        minutes=ground.minutes(),
    )
    lines = [GuidanceLine(**figures) for figures in figures_of(wheels, now)]
    bulletin = bulletin_in_force(ground.day) if ground.entry else None
    if ground.entry and bulletin:
        told = set_by_hand(bulletin, ground.at)
        for line in lines:
            follow(line, ground.entry.group.name, told, bulletin, gauge=gauge, rider=ground.rider)
    return {line.axle: line for line in lines}


def starts_at(
    ground: Ground, lines: Mapping[str, GuidanceLine], tire_c: Sequence[float], *, gauge: Instrument | None
) -> dict[str, Starts]:
    """Return by axle the start pressures of some lines at other temperatures of the tires.

    Each goes through what its line shows on the rider's gauge, so that the rider reads at home what the slip says.
    """
    wheels = [ground.tire(line.spec) for line in lines.values()]
    if not wheels:
        return {}
    offset_kpa = gauge.offset_kpa if gauge else 0.0
    own = [line.tire_c for line in lines.values()]
    every = [*own, *np.repeat(np.asarray(tire_c, dtype=np.float64), len(wheels)).tolist()]
    now = compute(
        wheels * (1 + len(tire_c)),
        day=ground.day,
        weather=[ground.conditions] * len(every),
        heating=newest(LearnedModel.Subject.HEATING),
        minutes=ground.minutes(),
        set_at_c=every,
    )
    found = now.pressure.start_kpa.reshape(1 + len(tire_c), len(wheels))
    return {
        axle: Starts(
            line,
            np.asarray(tire_c, dtype=np.float64),
            found[1:, place] + (line.shown_kpa - offset_kpa - found[0, place]),
            *(limits_around(line, line.shown_kpa - offset_kpa) if line.by_hand else limits_of(line.spec)),
        )
        for place, (axle, line) in enumerate(lines.items())
    }
