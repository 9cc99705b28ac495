"""Two tire tests of Longfield's tester: one judged and finished, one still running; each on a bike opened to them.

They draw from a chance of their own, so that the season around them stays as it is.
"""

import math
import uuid
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np

from fleet.demo.cast import Entrant
from fleet.demo.places import FULL, GROUPS, TrackDay
from fleet.demo.products import BY_CODE, SOURCE
from fleet.demo.scene import LETTERS, Scene, midnight, minutes
from fleet.demo.stints import Garage
from fleet.science.inflation import gauge_after_kpa
from fleet.science.tire_size import parse_size
from fleet.trials.models import Step

SEED: Final = 1902
BASELINE: Final = ("lowmoor-td-f", "lowmoor-td-r190")
CANDIDATE: Final = ("alder-td-f", "alder-td-r190")
CLASS: Final = "1000 sport"
STEPS: Final = tuple(what for what in Step.What.values if what != "other")
CROWN_MM: Final = {BASELINE: (62.0, 96.0), CANDIDATE: (58.0, 101.0)}
FREE_MM: Final = {BASELINE: (0.0, 0.0), CANDIDATE: (3.0, -2.0)}
"""Radius over the design radius, front and rear."""
FELT: Final = {
    BASELINE: (("moves", "exit"), ("good", "mid")),
    CANDIDATE: (("good", "exit"), ("heavy", "entry")),
}
AXLES: Final = ("front", "rear")
# axle, basis, kPa, air, track surface, where, pace, days before the test, found where
GATHERED: Final = (
    (
        "front",
        "hot",
        231.0,
        21.0,
        29.0,
        "Marram Point Circuit",
        "fast group",
        40,
        "another tester's notebook",
    ),
    (
        "front",
        "cold",
        204.0,
        17.0,
        22.0,
        "Cold Quarry Raceway",
        "middle group",
        130,
        "a rider's answer to our letter",
    ),
    ("front", "hot", 214.0, 31.0, None, "", "", 700, "a report passed around in the paddock"),
    ("rear", "hot", 221.0, 21.0, 29.0, "Marram Point Circuit", "fast group", 40, "another tester's notebook"),
    (
        "rear",
        "cold",
        188.0,
        17.0,
        22.0,
        "Cold Quarry Raceway",
        "middle group",
        130,
        "a rider's answer to our letter",
    ),
)
"""What Longfield's testers found reported about the candidate; invented."""


@dataclass
class Bench:
    """One test while it is written down: whose bike, on which day, and the tires by set."""

    scene: Scene
    code: str
    rider: Entrant
    day: TrackDay
    rng: np.random.Generator
    tires: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)

    def pair(self, specs: tuple[str, str]) -> str:
        """Return the code of the wheels a set runs on."""
        return self.rider.pair("test-a" if specs == BASELINE else "test-b")

    def about(self, middle: float, spread: float) -> float:
        """Return a number scattered normally about another."""
        return float(self.rng.normal(middle, spread))


def add_trials(scene: Scene, days: list[TrackDay], garages: list[Garage]) -> None:
    """Add both tests, on days their rider did not ride otherwise."""
    rng = np.random.default_rng(SEED)
    past = [day for day in days if day.date < scene.today and day.place is FULL and not day.is_wet]
    taken: set[str] = set()
    for number, day in enumerate((past[-3], past[-2]), start=1):
        rider = _free_rider(scene, day, garages, taken)
        if rider is None:
            continue
        taken.add(rider.code)
        bench = Bench(scene, f"longfield-{number}", rider, day, rng)
        _open(bench)
        if number == 1:
            _gather(scene, day)
            _finished(bench)
        else:
            _running(bench)


def _gather(scene: Scene, day: TrackDay) -> None:
    for axle, basis, kpa, air_c, track_c, track_name, pace, days, source in GATHERED:
        scene.add(
            "reference_notes",
            spec=CANDIDATE[AXLES.index(axle)],
            organisation="longfield",
            basis=basis,
            pressure_kpa=kpa,
            air_c=air_c,
            track_surface_c=track_c,
            track_name=track_name,
            pace=pace,
            noted_on=day.date - timedelta(days=days),
            source=f"{source}, {SOURCE}",
        )


def _free_rider(scene: Scene, day: TrackDay, garages: list[Garage], taken: set[str]) -> Entrant | None:
    rode = {row["bike"] for row in scene.rows["entries"] if row["date"] == day.date}
    classes = {row["code"]: row["description"] for row in scene.rows["bikes"]}
    accounts = {row["code"] for row in scene.rows["riders"] if row["email"]}
    free = (
        garage.rider
        for garage in garages
        if garage.rider.bike not in rode and classes[garage.rider.bike] == CLASS
        if garage.rider.code in accounts - taken
    )
    return next(free, None)


def _open(bench: Bench) -> None:
    """Let the rider share with Longfield, and put two pairs of wheels with both sets beside the bike."""
    scene, rider = bench.scene, bench.rider
    shares = any(
        row["rider"] == rider.code and row["organisation"] == "longfield" and not row["withdrawn_at"]
        for row in scene.rows["sharings"]
    )
    if not shares:
        scene.add(
            "sharings",
            rider=rider.code,
            organisation="longfield",
            scope="stints",
            granted_at=midnight(bench.day.date) - timedelta(days=3),
            withdrawn_at=None,
        )
    for specs, name in ((BASELINE, "test wheels A"), (CANDIDATE, "test wheels B")):
        scene.add("wheel_pairs", bike=rider.bike, code=bench.pair(specs), name=name, is_in_use=False)
        bench.tires[specs] = {}
        for place, spec in enumerate(specs):
            label = "".join(bench.rng.choice(list(LETTERS), 8))
            bench.tires[specs][AXLES[place]] = label
            scene.add("tires", label_code=label, rider=rider.code, spec=spec, identification="")


def _plan(bench: Bench, question: str, **more: Any) -> None:
    bench.scene.add(
        "tire_tests",
        code=bench.code,
        organisation="longfield",
        bike=bench.rider.bike,
        question=question,
        planned_on=bench.day.date,
        layout=bench.day.place.layout,
        held_constant="Fuel at half, damping and lines as they are, nine tenths of the rider's pace.",
        gearbox_teeth=16,
        wheel_teeth=43,
        **{
            f"{side}_{part}": value
            for side, specs in (("baseline", BASELINE), ("candidate", CANDIDATE))
            for part, value in zip((*AXLES, "pair"), (*specs, bench.pair(specs)), strict=True)
        },
        **more,
    )


def _steps(bench: Bench, done: int) -> None:
    for position, what in enumerate(STEPS, start=1):
        state = "done" if position <= done else "open"
        bench.scene.add("test_steps", test=bench.code, position=position, what=what, words="", state=state)


def _finished(bench: Bench) -> None:
    """Write a whole test: both sets measured and run, back to the baseline, a verdict, the set removed."""
    _plan(
        bench,
        "Is the Alder TD quicker than the Lowmoor TD on a 1000 sport, and does it last as long?",
        judged_on=bench.day.date + timedelta(days=1),
        verdict="The Alder holds the line on the exit where the Lowmoor moves about under power. It asks for more "
        "effort to turn in, most of which the fork position gives back. Riders who ran the Lowmoor because it warms "
        "up quickly should keep it for cold mornings.",
        ended_on=bench.day.date + timedelta(days=9),
        final_remark="Taken off after the day and its ride-out, worn evenly, nothing torn.",
    )
    _steps(bench, len(STEPS))
    _fit(bench, BASELINE, 8.0)
    _measure(bench, BASELINE, 8.4)
    _treads(bench, BASELINE, 8.5, 0.0)
    _run(bench, BASELINE, 10.0, 7, 0.0, "consistency")
    _fit(bench, CANDIDATE, 10.6)
    _measure(bench, CANDIDATE, 11.0)
    _treads(bench, CANDIDATE, 11.1, 0.0)
    _run(bench, CANDIDATE, 11.5, 5, 2.5, "scrub_in")
    _run(bench, CANDIDATE, 12.2, 6, -0.6, "settle")
    bench.scene.fact(
        "adjustments",
        recorded_at=bench.day.at(12, 55),
        wheel_pair=bench.pair(CANDIDATE),
        part="rear_rebound",
        before=12.0,
        after=14.0,
        unit="clicks",
        made_at=bench.day.at(12, 54),
    )
    _run(bench, CANDIDATE, 13.5, 7, -1.3, "change")
    _run(bench, CANDIDATE, 14.2, 7, -1.4, "consistency")
    _run(bench, BASELINE, 15.0, 7, 0.1, "consistency")
    _treads(bench, BASELINE, 15.7, 0.6)
    _treads(bench, CANDIDATE, 15.8, 1.1)


def _running(bench: Bench) -> None:
    """Write a test in its middle: the baseline run, the candidate fitted, measured and scrubbed in."""
    _plan(bench, "Does the Alder TD keep its pressure steadier than the Lowmoor TD in the heat?")
    _steps(bench, 6)
    _fit(bench, BASELINE, 8.0)
    _measure(bench, BASELINE, 8.4)
    _treads(bench, BASELINE, 8.5, 0.0)
    _run(bench, BASELINE, 10.0, 7, 0.0, "consistency")
    _fit(bench, CANDIDATE, 10.6)
    _measure(bench, CANDIDATE, 11.0)
    _run(bench, CANDIDATE, 11.5, 5, 2.5, "scrub_in")


def _moment(bench: Bench, hour: float) -> datetime:
    return bench.day.at(int(hour), 60 * (hour % 1))


def _fit(bench: Bench, specs: tuple[str, str], hour: float) -> None:
    for place, axle in enumerate(AXLES):
        moment = _moment(bench, hour) + minutes(9 * place)
        bench.scene.fact(
            "fittings",
            recorded_at=moment + minutes(2),
            wheel_pair=bench.pair(specs),
            axle=axle,
            fitted_at=moment,
            tire=bench.tires[specs][axle],
        )


def _measure(bench: Bench, specs: tuple[str, str], hour: float) -> None:
    """Write gaps, roll-outs, ride heights and outlines of a set."""
    scene, moment = bench.scene, _moment(bench, hour)
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
                recorded_at=moment + minutes(6),
                tire=bench.tires[specs][axle],
                taken_at=moment,
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
            recorded_at=moment + minutes(8),
            tire=bench.tires[specs][axle],
            taken_at=moment,
            x_mm=across,
            z_mm=[round(z, 2) for z in heights],
        )


def _treads(bench: Bench, specs: tuple[str, str], hour: float, worn_mm: float) -> None:
    for place, axle in enumerate(AXLES):
        new_mm = BY_CODE[specs[place]].known.new_depth_mm
        for zone, share in (("L1", 1.0), ("C", 0.6), ("R1", 1.2)):
            depth = new_mm - worn_mm * share * (0.7 if axle == "front" else 1.0) + bench.about(0, 0.04)
            bench.scene.fact(
                "treads",
                recorded_at=_moment(bench, hour) + minutes(4),
                tire=bench.tires[specs][axle],
                zone=zone,
                taken_at=_moment(bench, hour),
                depth_mm=round(min(depth, new_mm), 1),
            )


def _run(
    bench: Bench, specs: tuple[str, str], hour: float, laps: int, slower_s: float, purpose: str
) -> uuid.UUID:
    """Write one stint with its lap times, pressures and a feel word, and let it count."""
    scene, day, started_at = bench.scene, bench.day, _moment(bench, hour)
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
        for moment, at, kpa in (
            ("set", started_at - minutes(3), set_kpa),
            ("in", ended_at + minutes(0.5), hot_kpa),
        ):
            scene.fact(
                "pressures",
                recorded_at=recorded_at,
                tire=bench.tires[specs][axle],
                stint=stint,
                moment=moment,
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
