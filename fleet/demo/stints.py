"""One stint as it happens and as it is written down: set, ride, come in, read, log."""

import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from fleet.demo.cast import Entrant
from fleet.demo.places import GROUPS, Moment, TrackDay
from fleet.demo.readings import (
    Read,
    nearest_step_kpa,
    shown_kpa,
    spoiled,
    write_feel,
    write_pressures,
    write_temperatures,
)
from fleet.demo.scene import Scene, minutes
from fleet.demo.shop import Wheel, fitted, wheels_of
from fleet.demo.truth import WARMERS_C, Truth, cold_kpa, later_kpa

LATE_MIN: Final = (9.0, 22.0)
WRONG_STINTS: Final = 3
STINTS_TO_A_CORRECTION: Final = 300
"""After one in so many its rider says that the rear was never warm, so that this heat cycle does not count."""


@dataclass
class Garage:
    """One rider's wheels through the season, and what the rider came to believe about the heat of the tires."""

    rider: Entrant
    pairs: dict[str, list[Wheel]] = field(default_factory=dict)
    believed_c: dict[str, float] = field(default_factory=dict)

    def wheels(self, name: str) -> list[Wheel]:
        """Return the wheels of a pair."""
        return self.pairs.setdefault(name, wheels_of(self.rider, name))


@dataclass(frozen=True)
class Outing:
    """A stint as it was ridden."""

    day: TrackDay
    started_at: datetime
    ended_at: datetime
    laps: int
    effort: float
    sky: Moment

    @property
    def length_min(self) -> float:
        """Return how long it lasted in minutes."""
        return (self.ended_at - self.started_at).total_seconds() / 60


@dataclass
class Stints:
    """Rides stints and writes them down, now and then wrongly."""

    scene: Scene
    truth: Truth
    wrong_left: int = WRONG_STINTS

    def ride(self, garage: Garage, wheels: list[Wheel], day: TrackDay, slot: datetime) -> None:
        """Let a rider ride one slot."""
        scene, rider = self.scene, garage.rider
        outing = self._planned(rider, day, slot)
        reads = self._set(garage, wheels, outing)
        for _, rubber in fitted(wheels):
            self.truth.ride(
                rubber,
                rider,
                day,
                outing.sky,
                ended_at=outing.ended_at,
                length=outing.length_min,
                km=outing.laps * day.place.length_km,
                effort=outing.effort,
            )
        hot, off_kpa = self._read_hot(garage, wheels, outing)
        recorded_at = max(outing.ended_at + minutes(scene.between(2, 40)), *(read.taken_at for read in hot))
        stint, recorded_at = self._log(rider, wheels[0].pair, outing, recorded_at)
        write_pressures(scene, spoiled(scene, reads + hot), rider.gauge, stint, recorded_at)
        rear = wheels[1].rubber
        if rear is not None and scene.chance(0.55):
            is_worn = rear.left_mm < rear.spec.known.wear_limit_mm + 0.5
            write_feel(scene, stint, off_kpa, is_worn=is_worn, recorded_at=recorded_at)
        if rear is not None and scene.chance(0.04):
            write_temperatures(scene, rear, stint, outing.ended_at + minutes(1), recorded_at)
        if rear is not None and len(scene.rows["stints"]) % STINTS_TO_A_CORRECTION == 0:
            scene.fact(
                "cycle_corrections", recorded_at=recorded_at + minutes(3), tire=rear.label, stint=stint
            )

    def _planned(self, rider: Entrant, day: TrackDay, slot: datetime) -> Outing:
        scene = self.scene
        started_at = slot + minutes(scene.between(0.5, 2.0))
        ended_at = slot + minutes(scene.between(16.0, 19.0))
        effort = round(min(max(scene.about(rider.effort, 0.04), 0.5), 1.05), 2)
        speed_kmh = GROUPS[rider.group][1] * (0.8 if day.is_wet else 1.0) * (0.85 + 0.18 * effort)
        hours = (ended_at - started_at).total_seconds() / 3600
        laps = max(int(hours * speed_kmh / day.place.length_km), 1)
        return Outing(day, started_at, ended_at, laps, effort, day.now(started_at))

    def _set(self, garage: Garage, wheels: list[Wheel], outing: Outing) -> list[Read]:
        """Set both pressures for the heat the rider expects, and return them as read."""
        scene, rider, sky = self.scene, garage.rider, outing.sky
        moment = outing.started_at - minutes(3)
        reads = []
        for wheel, rubber in fitted(wheels):
            self.truth.rest(rubber, moment, sky, on_warmers=rider.uses_warmers)
            known = rubber.spec.known
            expected = garage.believed_c.setdefault(
                wheel.spec.code, known.settled_rise_c + scene.about(0, 7.0)
            )
            wanted = cold_kpa(known.hot_target_kpa + rider.wanted_off_kpa, expected, rubber.gas_c, sky)
            asked = min(max(wanted, known.lower_kpa - 15), known.upper_kpa)
            shown = nearest_step_kpa(rider.gauge, asked + rider.gauge.offset_kpa)
            rubber.gauge_kpa = shown - rider.gauge.offset_kpa + scene.about(0, 0.8)
            is_warm = abs(rubber.gas_c - sky.air_c) > 2.0 and not rider.uses_warmers  # noqa: PLR2004 -- felt by hand
            tire_c = round(rubber.gas_c + scene.about(0, 1.5), 1) if is_warm else None
            reads.append(Read(rubber, "set", moment, shown, tire_c))
        return reads

    def _read_hot(
        self, garage: Garage, wheels: list[Wheel], outing: Outing
    ) -> tuple[list[Read], dict[str, float]]:
        """Read both pressures when coming in, or late; the rider learns from them."""
        scene, rider, sky = self.scene, garage.rider, outing.sky
        is_late = scene.chance(0.06)
        passed = scene.between(*LATE_MIN) if is_late else 0.5
        taken_at = outing.ended_at + minutes(passed)
        reads, off_kpa = [], {}
        for wheel, rubber in fitted(wheels):
            off_kpa[wheel.axle] = rubber.gauge_kpa - rubber.spec.known.hot_target_kpa
            surprise_c = rubber.gas_c - sky.air_c - garage.believed_c[wheel.spec.code]
            garage.believed_c[wheel.spec.code] += 0.6 * surprise_c
            kpa = shown_kpa(scene, rider.gauge, later_kpa(rubber, passed, sky))
            reads.append(Read(rubber, "later" if is_late else "in", taken_at, kpa))
        return reads, off_kpa

    def _log(
        self, rider: Entrant, pair: str, outing: Outing, recorded_at: datetime
    ) -> tuple[uuid.UUID, datetime]:
        """Write the stint down; a few times with laps typed wrong, voided and logged again."""
        scene, day = self.scene, outing.day
        cells: dict[str, Any] = {
            "wheel_pair": pair,
            "event": day.event,
            "date": day.date,
            "layout": day.place.layout,
            "started_at": outing.started_at,
            "ended_at": outing.ended_at,
            "effort": outing.effort if scene.chance(0.9) else None,
            "warmers_c": WARMERS_C if rider.uses_warmers else None,
        }
        if self.wrong_left and scene.chance(0.004):
            self.wrong_left -= 1
            scene.fact(
                "stints",
                recorded_at=recorded_at,
                laps=outing.laps + 10,
                voided_at=recorded_at + minutes(4),
                void_reason="laps typed wrong",
                **cells,
            )
            recorded_at += minutes(5)
        lap_s = 60 * outing.length_min / (outing.laps + 0.4)
        times = [round(scene.about(lap_s, 0.012 * lap_s), 2) for _ in range(outing.laps)]
        given = times if scene.chance(0.3) else []
        key = scene.fact("stints", recorded_at=recorded_at, laps=outing.laps, lap_times_s=given, **cells)
        return key, recorded_at
