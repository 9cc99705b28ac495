"""What is done to a bike under test in the demo: tires fitted, measured, ridden and looked at."""

import math
import uuid
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from fleet.catalogue.models import AXLES
from fleet.demo.cast import Entrant
from fleet.demo.places import GROUPS, TrackDay
from fleet.demo.products import BY_CODE
from fleet.demo.scene import Scene, minutes
from fleet.science.inflation import gauge_after_kpa
from fleet.science.tire_size import parse_size

BASELINE: Final = ("lowmoor-td-f", "lowmoor-td-r190")
CANDIDATE: Final = ("alder-td-f", "alder-td-r190")
CROWN_MM: Final = {BASELINE: (62.0, 96.0), CANDIDATE: (58.0, 101.0)}
FREE_MM: Final = {BASELINE: (0.0, 0.0), CANDIDATE: (3.0, -2.0)}
"""Radius over the design radius, front and rear."""
FELT: Final = {
    BASELINE: (("moves", "exit"), ("good", "mid")),
    CANDIDATE: (("good", "exit"), ("heavy", "entry")),
}


@dataclass
class Bench:
    """One test while it is written down: whose bike, on which day, and the tires by set."""

    scene: Scene
    code: str
    rider: Entrant
    day: TrackDay
    rng: np.random.Generator
    tires: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)
    fittings: dict[tuple[str, str], dict[str, uuid.UUID]] = field(default_factory=dict)

    def pair(self, specs: tuple[str, str]) -> str:
        """Return the code of the wheels a set runs on."""
        return self.rider.pair("test-a" if specs == BASELINE else "test-b")

    def about(self, middle: float, spread: float) -> float:
        """Return a number scattered normally about another."""
        return float(self.rng.normal(middle, spread))


def moment(bench: Bench, hour: float) -> datetime:
    """Return the time of an hour of the test's day."""
    return bench.day.at(int(hour), 60 * (hour % 1))


def fit(bench: Bench, specs: tuple[str, str], hour: float) -> None:
    """Write the fitting of a set."""
    for place, axle in enumerate(AXLES):
        fitted_at = moment(bench, hour) + minutes(9 * place)
        bench.fittings.setdefault(specs, {})[axle] = bench.scene.fact(
            "fittings",
            recorded_at=fitted_at + minutes(2),
            wheel_pair=bench.pair(specs),
            axle=axle,
            fitted_at=fitted_at,
            tire=bench.tires[specs][axle],
        )


def measure(bench: Bench, specs: tuple[str, str], hour: float) -> None:
    """Write gaps, roll-outs, ride heights and outlines of a set."""
    scene, taken_at = bench.scene, moment(bench, hour)
    for place, axle in enumerate(AXLES):
        more = FREE_MM[specs][place]
        radius = parse_size(BY_CODE[specs[place]].size).radius_mm + more
        read = {
            "gap": (22.0, 26.0)[place] - more + bench.about(0, 0.2),
            "roll_out": 2 * math.pi * (radius - 2.0) + bench.about(0, 2.0),
            "ride_height": (520.0, 470.0)[place] + bench.about(0, 0.5),
        }
        for quantity, length_mm in read.items():
            scene.fact(
                "shapes",
                recorded_at=taken_at + minutes(6),
                tire=bench.tires[specs][axle],
                taken_at=taken_at,
                quantity=quantity,
                length_mm=round(length_mm, 1),
            )
        crown = CROWN_MM[specs][place]
        across = (
            [float(x) for x in range(-45, 46, 9)]
            if axle == "front"
            else [float(x) for x in range(-75, 76, 15)]
        )
        heights = [math.sqrt(crown**2 - x**2) - crown + bench.about(0, 0.05) for x in across]
        scene.fact(
            "contours",
            recorded_at=taken_at + minutes(8),
            tire=bench.tires[specs][axle],
            taken_at=taken_at,
            x_mm=across,
            z_mm=[round(z, 2) for z in heights],
        )


def treads(bench: Bench, specs: tuple[str, str], hour: float, worn_mm: float) -> None:
    """Write the depths of a set, worn by so much at the centre of the rear."""
    for place, axle in enumerate(AXLES):
        new_mm = BY_CODE[specs[place]].known.new_depth_mm
        for zone, share in (("L1", 1.0), ("C", 0.6), ("R1", 1.2)):
            depth = new_mm - worn_mm * share * (0.7 if axle == "front" else 1.0) + bench.about(0, 0.04)
            bench.scene.fact(
                "treads",
                recorded_at=moment(bench, hour) + minutes(4),
                tire=bench.tires[specs][axle],
                zone=zone,
                taken_at=moment(bench, hour),
                depth_mm=round(min(depth, new_mm), 1),
            )


def look(bench: Bench, specs: tuple[str, str], hour: float) -> None:
    """Write what the treads of a set showed."""
    for axle, zone, look in (("front", "R2", "even"), ("rear", "R1", "rolled_grain"), ("rear", "L1", "even")):
        bench.scene.fact(
            "surface_notes",
            recorded_at=moment(bench, hour) + minutes(2),
            tire=bench.tires[specs][axle],
            seen_at=moment(bench, hour),
            look=look,
            zone=zone,
            words="",
        )


def ride_out(bench: Bench, specs: tuple[str, str]) -> None:
    """Write a ride on the road a week after the test."""
    started_at = bench.day.at(9, 0) + timedelta(days=7)
    ended_at = started_at + minutes(160)
    bench.scene.fact(
        "stints",
        recorded_at=ended_at + minutes(30),
        wheel_pair=bench.pair(specs),
        started_at=started_at,
        ended_at=ended_at,
        distance_km=174.0,
    )


def take_off(bench: Bench, specs: tuple[str, str], days_after: int) -> None:
    """Write the removal of a set, so many days after the test."""
    for place, axle in enumerate(AXLES):
        removed_at = bench.day.at(18, 9 * place) + timedelta(days=days_after)
        bench.scene.fact(
            "removals",
            recorded_at=removed_at + minutes(2),
            fitting=bench.fittings[specs][axle],
            removed_at=removed_at,
            reason="swap",
            destination="kept",
        )


def run(
    bench: Bench, specs: tuple[str, str], hour: float, laps: int, slower_s: float, purpose: str
) -> uuid.UUID:
    """Write one stint with its lap times, pressures and a feel word, and let it count."""
    scene, day, started_at = bench.scene, bench.day, moment(bench, hour)
    lap_s = 3600 * day.place.length_km / GROUPS[bench.rider.group][1] + 4.0
    times = [round(lap_s + slower_s + bench.about(0, 0.35), 2) for _ in range(laps)]
    ended_at = started_at + timedelta(seconds=round(sum(times)) + 90)
    recorded_at = ended_at + minutes(6)
    stint = scene.fact(
        "stints",
        recorded_at=recorded_at,
        wheel_pair=bench.pair(specs),
        event=day.event,
        date=day.date,
        layout=day.place.layout,
        started_at=started_at,
        ended_at=ended_at,
        laps=laps,
        effort=0.75 if purpose == "scrub_in" else 0.9,
        lap_times_s=times,
    )
    sky = day.now(started_at)
    for place, axle in enumerate(AXLES):
        known = BY_CODE[specs[place]].known
        hot_c = sky.air_c + known.settled_rise_c * (0.7 if purpose == "scrub_in" else 0.95)
        set_kpa = float(gauge_after_kpa(known.hot_target_kpa, hot_c, sky.air_c, sky.barometer_kpa))
        hot_kpa = known.hot_target_kpa + bench.about(0, 1.5)
        for when, at, kpa in (
            ("set", started_at - minutes(3), set_kpa),
            ("in", ended_at + minutes(0.5), hot_kpa),
        ):
            scene.fact(
                "pressures",
                recorded_at=recorded_at,
                tire=bench.tires[specs][axle],
                stint=stint,
                moment=when,
                taken_at=at,
                read_kpa=round(kpa, 1),
            )
    if purpose != "scrub_in":
        for feel, phase in FELT[specs]:
            scene.fact("feel_notes", recorded_at=recorded_at, stint=stint, feel=feel, phase=phase)
    return scene.fact(
        "test_runs",
        recorded_at=recorded_at + minutes(2),
        test=bench.code,
        stint=stint,
        purpose=purpose,
        words="",
    )
