"""Listen to readings and notes: which rules speak about which end of the bike, and what they ask for."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np

from fleet.science.advice.rules import FELT, PHASES, RULES, SEEN, ZONES, End, Hot, Kind, Rule
from fleet.science.bounds import ABSOLUTE_ZERO_C, barometer, within
from fleet.science.hot_target import STANDARD_BAROMETER_KPA
from fleet.science.inflation import gas_temperature_c, start_gauge_kpa
from fleet.science.practice import PRESSURE_GAUGE_SD_KPA, REFERENCE_AIR_C

ENDS: Final[tuple[End, End]] = ("front", "rear")
Basis = Literal["physics", "practice", "state"]
Note = tuple[str, str]
"""A word and its place, "" where none was noted."""

QUIET_KPA: Final = 2.0 * PRESSURE_GAUGE_SD_KPA
"""A start pressure no further off than this may be the gauge: a finer scale makes a reading no surer."""

WARMERS_FROM_C: Final = 45.0
"""A tire set hotter than this comes off warmers, and may cool on its stint; common practice, no published source."""

COLDEST_OFF_WARMERS_C: Final = 30.0
"""Gas of a tire that came off warmers after a stint, at least; common practice, no published source."""

HOTTEST_GAS_C: Final = 130.0
"""Gas of a tire after a stint, at most; common practice, no published source."""


@dataclass(frozen=True)
class Tire:
    """One tire after a stint. Pressures are true gauge kPa; NaN is not read.

    Attributes
    ----------
    lower_kpa, upper_kpa : range of the spec for the start pressure
    step_kpa, gauge_offset_kpa : step of the rider's gauge and how much it shows too high
    start_kpa, start_c : as set before the stint, and the tire's temperature then
    hot_kpa, hot_target_kpa : as read on coming in, and what it should have been
    barometer_kpa : pressure around the tire
    looks : what its tread showed, with the zone
    must_stand_down : whether it may not go out for another reason (worn, too old, on hold)
    """

    lower_kpa: float
    upper_kpa: float
    step_kpa: float
    gauge_offset_kpa: float = 0.0
    start_kpa: float = np.nan
    start_c: float = REFERENCE_AIR_C
    hot_kpa: float = np.nan
    hot_target_kpa: float = np.nan
    barometer_kpa: float = STANDARD_BAROMETER_KPA
    looks: Collection[Note] = ()
    must_stand_down: bool = False

    def __post_init__(self) -> None:
        for name in ("lower_kpa", "upper_kpa", "step_kpa", "gauge_offset_kpa"):
            if np.isnan(getattr(self, name)):
                raise ValueError(f"{name} must be known, not NaN")
        within("lower_kpa", self.lower_kpa, above=0.0)
        within("upper_kpa less lower_kpa", self.upper_kpa - self.lower_kpa, at_least=0.0)
        within("step_kpa", self.step_kpa, above=0.0)
        within("gauge_offset_kpa", self.gauge_offset_kpa)
        for name in ("start_kpa", "hot_kpa", "hot_target_kpa"):
            within(name, getattr(self, name), above=0.0)
        within("start_c", self.start_c, above=ABSOLUTE_ZERO_C)
        barometer("barometer_kpa", self.barometer_kpa)
        known("looks", self.looks, SEEN, ZONES)

    @cached_property
    def reached_c(self) -> float:
        """Return the gas temperature the two readings tell if no air was lost in between."""
        return float(gas_temperature_c(self.start_kpa, self.start_c, self.hot_kpa, self.barometer_kpa))

    @property
    def is_doubtful(self) -> bool:
        """Return whether no gas gets so cold or so hot on a stint: a reading is mistaken, or air was lost."""
        if self.start_c <= WARMERS_FROM_C:
            is_too_cold = self.reached_c <= self.start_c
        else:
            is_too_cold = self.reached_c < COLDEST_OFF_WARMERS_C
        return is_too_cold or self.reached_c > HOTTEST_GAS_C

    @property
    def needed_kpa(self) -> float:
        """Return the start pressure that would have met the hot target, at the temperature it was set at."""
        return float(start_gauge_kpa(self.hot_target_kpa, self.reached_c, self.start_c, self.barometer_kpa))

    @cached_property
    def steps_off(self) -> float:
        """Return how many gauge steps the start pressure was too low, exactly; NaN where a reading is missing."""
        return (self.needed_kpa - self.start_kpa) / self.step_kpa

    @property
    def hot(self) -> Hot:
        """Return where the hot reading stands against its target, to half a gauge step or the gauge's noise."""
        if self.is_doubtful or np.isnan(self.steps_off):
            return "unknown"
        if abs(self.steps_off) <= max(0.5, QUIET_KPA / self.step_kpa):
            return "on"
        return "under" if self.steps_off > 0 else "over"

    @property
    def is_within(self) -> bool:
        """Return whether the start pressure was within the spec's range, as far as it is known."""
        return not (self.start_kpa < self.lower_kpa or self.start_kpa > self.upper_kpa)


@dataclass(frozen=True)
class Sign:
    """One rule that speaks: about which end, what it asks for and why, and what it is founded on."""

    code: str
    axle: End
    kind: Kind
    steps: int
    reason: str
    basis: Basis


def signs(tires: Mapping[End, Tire], feels: Collection[Note]) -> tuple[Sign, ...]:
    """Return everything that speaks, by precedence, whatever the order of the notes.

    Raises
    ------
    ValueError
        If a word or a place is not one of those known.
    """
    known("feels", feels, FELT, PHASES)
    heard = [*_of_doubt(tires), *_of_state(tires), *_of_hot_readings(tires)]
    for rule in RULES:
        if rule.was_felt:
            if _speaks(rule, feels):
                heard.append(_sign(rule, rule.axle))
        else:
            heard += [
                _sign(rule, end)
                for end in ENDS
                if _speaks(rule, tires[end].looks) and (not rule.when_hot or tires[end].hot in rule.when_hot)
            ]
    return tuple(sorted(heard, key=lambda sign: sign.kind != "stand down"))


def known(name: str, notes: Collection[Note], words: Collection[str], places: Collection[str]) -> None:
    """Refuse a note whose word or place is not one of those known.

    Raises
    ------
    ValueError
        With the words or places that would be right.
    """
    for word, place in notes:
        if word not in words:
            raise ValueError(f"{name} must be among {', '.join(sorted(words))}, not {word!r}")
        if place and place not in places:
            raise ValueError(f"the place of {name} must be among {', '.join(places)} or empty, not {place!r}")


def _speaks(rule: Rule, notes: Collection[Note]) -> bool:
    return any(word == rule.word and (not rule.places or place in rule.places) for word, place in notes)


def _sign(rule: Rule, axle: End) -> Sign:
    return Sign(rule.code, axle, rule.kind, rule.steps, rule.reason, "practice")


def _of_doubt(tires: Mapping[End, Tire]) -> list[Sign]:
    """Return the ends whose readings cannot both be right; of a leak that leaves the gas warm they show nothing."""
    return [
        Sign(
            "doubtful_reading",
            end,
            "measure",
            0,
            f"By the gas law the {end} gas went from {tires[end].start_c:.0f} to {tires[end].reached_c:.0f} degrees C, "
            "which no stint does: a reading or a temperature is mistaken, or the tire leaks. Check for a leak, then "
            "read again.",
            "physics",
        )
        for end in ENDS
        if tires[end].is_doubtful
    ]


def _of_state(tires: Mapping[End, Tire]) -> list[Sign]:
    found = [
        Sign("must_stand_down", end, "stand down", 0, f"The {end} tire must not go out.", "state")
        for end in ENDS
        if tires[end].must_stand_down
    ]
    found += [
        Sign(
            "start_out_of_range",
            end,
            "range",
            0,
            f"The {end} start pressure was outside the range of the tire: bring it inside before anything else.",
            "state",
        )
        for end in ENDS
        if not tires[end].is_within
    ]
    return found


def _of_hot_readings(tires: Mapping[End, Tire]) -> list[Sign]:
    """Return what the gas law asks for, the end further off in steps first."""
    off = [end for end in ENDS if tires[end].hot in ("under", "over")]
    off.sort(key=lambda end: -abs(tires[end].steps_off))
    return [_physics(end, tires[end]) for end in off]


def _physics(end: End, tire: Tire) -> Sign:
    is_low = tire.hot == "under"
    reason = (
        f"The {end} came in {tire.hot} its hot target: by the gas law {abs(tire.steps_off):.1f} gauge steps "
        f"{'more' if is_low else 'less'} at the start would have met it{', if it lost no air' if is_low else ''}."
    )
    return Sign(f"hot_{tire.hot}_target", end, "pressure", round(tire.steps_off), reason, "physics")
