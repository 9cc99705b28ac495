"""Play seasons in which everybody follows the guidance, with the same science and the same steps as the service."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fleet.calibration.columns import Columns
from fleet.calibration.heat_world import (
    BAROMETERS_KPA,
    KINDS,
    MAKER_HOT_KPA,
    PRODUCTS,
    RIDERS,
    Heat,
    Ride,
    Size,
    Weather,
    draw_weather,
    draw_world,
    per_bike,
    ride,
    stand,
)
from fleet.science.heating import Rise, expected_rise, learn
from fleet.science.inflation import gauge_after_kpa, start_gauge_kpa
from fleet.science.observed_rise import settled_rise_c
from fleet.science.pooling import Pooled
from fleet.science.practice import AIR_AHEAD_SD_C, PRESSURE_GAUGE_SD_KPA, TIRE_TEMPERATURE_SD_C
from fleet.science.standing import standing_tire
from fleet.science.start_pressure import StartPressure, rule_of_thumb_kpa, start_pressure

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

DAYS: Final = 10
STINTS_A_DAY: Final = 5
BETWEEN_STARTS_MIN: Final = 60.0
SLOT_MIN: Final = 20.0
FULL_MIN: Final = 15.0
"""A stint this long used its slot; one cut short is learned from, but not judged by what the slot was to end at."""

LEVELS: Final = (0.8, 0.95)
READ_MOMENT: Final = (
    "start_kpa", "tire_c", "tire_sd_c", "hot_kpa", "minutes_since_pit_in", "minutes_on_track", "barometer_kpa", "air_c",
)  # fmt: skip


@dataclass(frozen=True)
class Outcome(Columns):
    """What came of each judged tire and stint, one entry each; off is the true hot pressure less its target, in kPa.

    ``as_always_kpa`` and ``by_rule_kpa`` say the same had the rider set what was exactly right on the first stint with
    this kind of tire, or gone by "1 psi per 10 F" from how hot the tire got then; NaN on that first stint.
    ``hot_covered`` and ``start_covered`` have a last axis by ``LEVELS``.
    """

    readings: NDArray[np.int64]
    off_kpa: Array
    as_always_kpa: Array
    by_rule_kpa: Array
    hot_covered: Mask
    start_covered: Mask


def play(seed: int, size: Size) -> Outcome:
    """Return what came of one season."""
    season = Season(np.random.default_rng(seed), size)
    return Outcome.joined([outcome for day in range(DAYS) for outcome in season.day(day)])


@dataclass
class Records:
    """What the service has on record: one column per argument of the science, one entry per hot reading."""

    columns: dict[str, list[Array]] = field(default_factory=dict)

    def add(self, is_recorded: Mask, **columns: Any) -> None:
        """Record those readings of a round that were taken."""
        for name, column in columns.items():
            values = np.broadcast_to(np.asarray(column, dtype=np.float64), is_recorded.shape)
            self.columns.setdefault(name, []).append(values[is_recorded])

    def learned(self, spreads: Pooled | None) -> Pooled | None:
        """Return what the records teach; with the spreads of an earlier fit held, only effects are solved for."""
        if not self.columns:
            return None
        column = {name: np.concatenate(parts) for name, parts in self.columns.items()}
        codes = {name: column[name].astype(np.intp) for name in ("product", "track", "rider")}
        return learn(
            settled_rise_c(**{name: column[name] for name in READ_MOMENT}),
            practice=[PRODUCTS[code] for code in codes["product"]],
            track_over_air_c=column["track_over_air_c"],
            effort=column["effort"],
            **codes,
            sds=None if spreads is None else {**spreads.sd, "residual": spreads.residual_sd},
            dofs=None if spreads is None else spreads.dof,
        )


@dataclass(frozen=True)
class Believed:
    """What is believed of the tires while they are set: their temperature and its spread, air, track over air."""

    tire_c: Array
    tire_sd_c: Array
    air_c: float
    track_over_air_c: float


class Season:
    """One season as it unfolds: the truth, what is on record, what was learned, and how the tires stand now."""

    def __init__(self, rng: np.random.Generator, size: Size) -> None:
        self.rng, self.size = rng, size
        self.world = draw_world(rng, size)
        self.records = Records()
        self.rider = per_bike(np.arange(RIDERS)).astype(np.intp)
        self.own = {name: column[self.rider] for name, column in vars(self.world.riders).items()}
        self.kind = rng.integers(0, len(KINDS), RIDERS)
        self._mount()

    def _mount(self) -> None:
        self.product = np.concatenate([2 * self.kind, 2 * self.kind + 1])
        self.known = [PRODUCTS[code] for code in self.product]
        self.target_kpa = MAKER_HOT_KPA[self.product]
        self.first_right_kpa = np.full(len(self.product), np.nan)
        self.first_gas_c = np.full(len(self.product), np.nan)

    def day(self, number: int) -> Iterator[Outcome]:
        """Play a day: learn in the night before and, spreads held, before each round; half-season, try other tires."""
        if number == DAYS // 2:
            self.kind = self.rng.integers(0, len(KINDS), RIDERS)
            self._mount()
        track = int(self.rng.integers(len(BAROMETERS_KPA)))
        weather = draw_weather(self.rng, int(BETWEEN_STARTS_MIN * (STINTS_A_DAY + 1)), self.size)
        night = self.records.learned(None)
        air_c = np.full(len(self.product), weather.at(0.0)[0])
        heat, ran_min = Heat(air_c, air_c), np.full(len(self.product), np.nan)
        for stint in range(STINTS_A_DAY):
            pooled = night if stint == 0 else self.records.learned(night)
            at_min = 40.0 + stint * BETWEEN_STARTS_MIN
            heat = heat.warmed(np.abs(self.rng.normal(0.0, 2.0, len(air_c))))
            outcome, heat, ran_min = self._round(pooled, weather, at_min, track, heat, ran_min)
            yield outcome

    def _round(
        self, pooled: Pooled | None, weather: Weather, at_min: float, track: int, heat: Heat, ran_min: Array
    ) -> tuple[Outcome, Heat, Array]:
        """Return what came of one stint of every tire, how the tires stand at the next, and how long they ran."""
        believed = self._believed(weather, at_min, heat, ran_min)
        rise = expected_rise(
            pooled,
            practice=self.known,
            track_over_air_c=believed.track_over_air_c,
            product=self.product,
            track=track,
            rider=self.rider,
        )
        lines = [self._line(level, rise, believed, track) for level in LEVELS]
        slip_kpa = lines[0].shown_kpa - lines[0].start_kpa - self.own["offset_kpa"]
        slip_kpa = slip_kpa - self.rng.normal(0.0, self.size.gauge_kpa, len(slip_kpa))
        set_kpa = lines[0].start_kpa + slip_kpa
        out = self._ride(at_min, track, -slip_kpa)
        after = ride(self.rng, self.world, weather, out, heat)
        outcome = self._judged(out, heat, after, rise, lines, believed, slip_kpa)
        air_c = weather.at(at_min + SLOT_MIN)[0]
        self._record(out, heat, after, lines[0], believed, set_kpa, weather, air_c)
        rest_min = BETWEEN_STARTS_MIN - out.minutes
        return outcome, stand(self.world, self.product, after, air_c, rest_min), out.minutes

    def _believed(self, weather: Weather, at_min: float, heat: Heat, ran_min: Array) -> Believed:
        air_c, over_c = self._observed(weather, at_min)
        standing = standing_tire(
            air_c=air_c,
            rise_c=[known.settled_rise_c for known in self.known],
            minutes_on_track=ran_min,
            minutes_since=BETWEEN_STARTS_MIN - ran_min,
        )
        taken_c = heat.gas_c + self.rng.normal(0.0, 2.0, len(self.product))
        is_taken = self.own["takes_temperature"]
        return Believed(
            np.where(is_taken, taken_c, standing.tire_c),
            np.where(is_taken, TIRE_TEMPERATURE_SD_C, standing.sd_c),
            air_c,
            over_c,
        )

    def _observed(self, weather: Weather, at_min: float) -> tuple[float, float]:
        """Return the last half-hourly observation of air and track over air, with its error."""
        air_c, over_c = weather.at(30.0 * (at_min // 30.0))
        return air_c + float(self.rng.normal(0.0, 0.7)), max(over_c + float(self.rng.normal(0.0, 2.0)), 0.0)

    def _line(self, level: float, rise: Rise, believed: Believed, track: int) -> StartPressure:
        return start_pressure(
            target_kpa=self.target_kpa,
            rise_mean_c=rise.mean_c,
            rise_sd_c=rise.sd_c,
            df=rise.df,
            air_c=believed.air_c,
            air_sd_c=AIR_AHEAD_SD_C,
            tire_c=believed.tire_c,
            tire_sd_c=believed.tire_sd_c,
            barometer_kpa=BAROMETERS_KPA[track],
            minutes_on_track=SLOT_MIN,
            time_constant_min=rise.on_track_min,
            lower_kpa=[known.lower_kpa for known in self.known],
            upper_kpa=[known.upper_kpa for known in self.known],
            step_kpa=self.own["step_kpa"],
            gauge_offset_kpa=self.own["known_offset_kpa"],
            setting_sd_kpa=PRESSURE_GAUGE_SD_KPA,
            level=level,
        )

    def _ride(self, at_min: float, track: int, under_kpa: Array) -> Ride:
        """Return a round as it is ridden: some push, some rest, some come in early."""
        rng = self.rng
        mood = rng.choice([-0.1, 0.0, 0.06], RIDERS, p=[0.2, 0.6, 0.2]) + rng.normal(0.0, 0.02, RIDERS)
        is_cut_short = rng.random(RIDERS) < self.size.cut_short_share
        minutes = np.where(is_cut_short, rng.uniform(6.0, 12.0, RIDERS), rng.uniform(17.0, 23.0, RIDERS))
        effort = self.own["pace"] + per_bike(mood)
        return Ride(at_min, track, self.product, self.rider, effort, per_bike(minutes), under_kpa)

    def _judged(
        self,
        out: Ride,
        before: Heat,
        after: Heat,
        rise: Rise,
        lines: list[StartPressure],
        believed: Believed,
        slip_kpa: Array,
    ) -> Outcome:
        """Return what came of the stints that used their slot; every way of setting slips by the same."""
        barometer = BAROMETERS_KPA[out.track]
        right_kpa = start_gauge_kpa(self.target_kpa, after.gas_c, before.gas_c, barometer)
        by_rule_kpa = rule_of_thumb_kpa(self.target_kpa, self.first_gas_c, believed.tire_c)
        hot_kpa = [
            gauge_after_kpa(wanted_kpa + slip_kpa, before.gas_c, after.gas_c, barometer)
            for wanted_kpa in (lines[0].start_kpa, self.first_right_kpa, by_rule_kpa)
        ]
        is_first = np.isnan(self.first_gas_c)
        self.first_right_kpa = np.where(is_first, right_kpa, self.first_right_kpa)
        self.first_gas_c = np.where(is_first, after.gas_c, self.first_gas_c)
        off_kpa, as_always_kpa, by_rule_kpa = (hot - self.target_kpa for hot in hot_kpa)
        return Outcome(
            rise.readings,
            off_kpa,
            as_always_kpa,
            by_rule_kpa,
            np.stack(
                [(one.hot_low_kpa <= hot_kpa[0]) & (hot_kpa[0] <= one.hot_high_kpa) for one in lines], axis=-1
            ),
            np.stack([(one.low_kpa <= right_kpa) & (right_kpa <= one.high_kpa) for one in lines], axis=-1),
        ).where(out.minutes >= FULL_MIN)

    def _record(
        self,
        out: Ride,
        before: Heat,
        after: Heat,
        line: StartPressure,
        believed: Believed,
        set_kpa: Array,
        weather: Weather,
        air_c: float,
    ) -> None:
        """Take the hot readings of those who think of it: late, by their own gauge, now and then with a wrong time."""
        rng, own, barometer = self.rng, self.own, BAROMETERS_KPA[out.track]
        late_min = np.minimum(0.5 + rng.exponential(3.0, RIDERS), 14.0)
        then = stand(self.world, self.product, after, air_c, per_bike(late_min))
        hot_kpa = gauge_after_kpa(set_kpa, before.gas_c, then.gas_c, barometer) + own["offset_kpa"]
        hot_kpa = hot_kpa + rng.normal(0.0, self.size.gauge_kpa, len(hot_kpa))
        hot_kpa = np.round(hot_kpa / own["step_kpa"]) * own["step_kpa"]
        told_min = np.where(rng.random(RIDERS) < self.size.mistaken_share, 0.0, np.round(late_min))
        told_effort = out.effort + per_bike(rng.normal(0.0, 0.03, RIDERS))
        is_told = per_bike(rng.random(RIDERS) < self.size.effort_told_share)
        middle_c, over_c = self._observed(weather, out.at_min + 0.5 * SLOT_MIN)
        self.records.add(
            per_bike(rng.random(RIDERS) >= self.size.missed_share),
            start_kpa=line.shown_kpa - own["known_offset_kpa"],
            tire_c=believed.tire_c,
            tire_sd_c=believed.tire_sd_c,
            hot_kpa=hot_kpa - own["known_offset_kpa"],
            minutes_since_pit_in=per_bike(told_min),
            minutes_on_track=out.minutes,
            barometer_kpa=barometer,
            air_c=middle_c,
            track_over_air_c=over_c,
            effort=np.where(is_told, told_effort, np.nan),
            product=self.product,
            track=out.track,
            rider=self.rider,
        )
