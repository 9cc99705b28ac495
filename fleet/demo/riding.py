"""The season: who rides which day, what is changed in the morning, stint by stint what happens and is written down."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from fleet.demo.cast import Entrant
from fleet.demo.places import COLD_QUARRY, GROUPS, ROUNDS, TrackDay
from fleet.demo.readings import write_roll_out, write_surface, write_treads
from fleet.demo.scene import Scene, minutes
from fleet.demo.shop import Shop, Wheel, fitted
from fleet.demo.stints import Garage, Stints
from fleet.demo.truth import Rubber

PUSHERS: Final = (0, 7, 16, 23, 38, 47)
HELD: Final = 18
LIFTED: Final = 27
KEPT_ON_HOLD: Final = 31
KEEN: Final = (0, HELD, LIFTED, KEPT_ON_HOLD)
LATELY: Final = timedelta(days=50)
OWN_TIRES_EVERY: Final = 7
AGED: Final = {13: 6.6, 34: 10.3}
UNKNOWN_AGE: Final = 41


@dataclass
class Season:
    """Everything that happens on the days of the season."""

    scene: Scene
    shop: Shop
    attendance: float
    stints: Stints

    def ride(self, days: list[TrackDay], riders: list[Entrant]) -> list[Garage]:
        """Let the riders ride the days that are past and enter the one to come."""
        garages = [Garage(rider) for rider in riders]
        for day in days:
            is_past = day.date < self.scene.today
            for garage in garages:
                if is_past and not self._attends(garage.rider, day):
                    continue
                self._enter(garage.rider, day)
                if is_past:
                    self._spend_day(garage, day)
        return garages

    def _attends(self, rider: Entrant, day: TrackDay) -> bool:
        share = 0.6 if day.place.track is COLD_QUARRY else 1.0
        is_keen = rider.index in KEEN and not day.is_wet
        return is_keen or ((not day.is_wet or rider.has_wets) and self.scene.chance(self.attendance * share))

    def _enter(self, rider: Entrant, day: TrackDay) -> None:
        self.scene.add(
            "entries",
            event=day.event,
            date=day.date,
            bike=rider.bike,
            group=GROUPS[rider.group][0],
            number=str(rider.index + 11),
            uses_warmers=rider.uses_warmers,
        )

    def _spend_day(self, garage: Garage, day: TrackDay) -> None:
        scene, rider = self.scene, garage.rider
        wheels = garage.wheels("wet" if day.is_wet else "dry")
        self.prepare(garage, wheels, day.at(7, scene.between(0, 80)), day)
        turns = sorted(scene.rng.choice(ROUNDS, size=int(scene.rng.integers(3, 6)), replace=False))
        for turn in turns:
            self.stints.ride(garage, wheels, day, day.slot(rider.group, int(turn)))
        if scene.chance(0.5):
            self._measure(garage, wheels, day.at(17, scene.between(0, 50)))
        if scene.chance(0.05):
            self._adjust(wheels[0].pair, day.at(12, scene.between(0, 20)))

    def prepare(self, garage: Garage, wheels: list[Wheel], moment: datetime, day: TrackDay) -> None:
        """Fit what is missing, and change in the morning what this rider thinks is worn."""
        rider = garage.rider
        for place, wheel in enumerate(wheels):
            at = moment + minutes(9 * place)
            if wheel.rubber is None:
                self._fit_first(rider, wheel, at)
            elif self._is_due(rider, wheel.rubber, at):
                self._replace(rider, wheel, at)
            if wheel.rubber is not None and wheel.rubber.moment is None:
                wheel.rubber.gas_c, wheel.rubber.moment = day.now(at).air_c, at

    def _fit_first(self, rider: Entrant, wheel: Wheel, at: datetime) -> None:
        years = AGED.get(rider.index)
        if years is not None and wheel.axle == "front":
            self.shop.fit_own(wheel, rider, at, at.date() - timedelta(days=round(365.25 * years)))
        elif rider.index == UNKNOWN_AGE:
            self.shop.fit_own(wheel, rider, at, None)
        elif rider.index % OWN_TIRES_EVERY == OWN_TIRES_EVERY - 1:
            self.shop.fit_own(wheel, rider, at, at.date() - timedelta(days=int(self.scene.between(60, 600))))
        else:
            self.shop.fit(wheel, rider.vendor, at)

    def _is_due(self, rider: Entrant, rubber: Rubber, at: datetime) -> bool:
        known = rubber.spec.known
        spare_mm = rubber.left_mm - known.wear_limit_mm
        if rider.index in PUSHERS and at.date() > self.scene.today - LATELY:
            return spare_mm < -0.2  # noqa: PLR2004 -- rides into the limit
        return spare_mm < rider.stretches_mm or rubber.cycles > 1.3 * known.heat_cycle_guideline

    def _replace(self, rider: Entrant, wheel: Wheel, at: datetime) -> None:
        destination = "scrapped" if self.scene.chance(0.85) else "handed_back"
        self.shop.take_off(wheel, at - minutes(6), "worn", destination)
        self.shop.fit(wheel, rider.vendor, at)
        rubber = wheel.rubber
        if rubber is not None and self.scene.chance(0.6):
            write_treads(
                self.scene, rubber, at + minutes(2), zones=("C",), instrument=f"{rider.vendor}-depth"
            )

    def _measure(self, garage: Garage, wheels: list[Wheel], taken_at: datetime) -> None:
        scene = self.scene
        zones = ("L2", "L1", "C", "R1", "R2") if scene.chance(0.3) else ("L1", "C", "R1")
        by_crew = scene.chance(0.5)
        instrument = f"{garage.rider.vendor}-depth" if by_crew else None
        for place, (_, rubber) in enumerate(fitted(wheels)):
            write_treads(scene, rubber, taken_at + minutes(4 * place), zones=zones, instrument=instrument)
            if scene.chance(0.05):
                write_roll_out(scene, rubber, taken_at + minutes(4 * place + 2))
            if scene.chance(0.25):
                known = rubber.spec.known
                looks = (
                    ("edge_step", "hot_tear")
                    if rubber.left_mm < known.wear_limit_mm + 0.8
                    else ("even", "even", "rolled_grain", "cold_tear")
                )
                write_surface(scene, rubber, taken_at + minutes(4 * place + 3), scene.pick(looks))

    def _adjust(self, pair: str, made_at: datetime) -> None:
        part, unit, before, step = self.scene.pick(
            (
                ("rear_rebound", "clicks", 12.0, 2.0),
                ("front_preload", "turns", 5.0, 0.5),
                ("rear_ride_height", "mm", 0.0, 2.0),
                ("front_compression_low", "clicks", 10.0, -2.0),
            )
        )
        self.scene.fact(
            "adjustments",
            recorded_at=made_at + minutes(1),
            wheel_pair=pair,
            part=part,
            before=before,
            after=before + step,
            unit=unit,
            made_at=made_at,
        )
