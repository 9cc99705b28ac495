"""Two tire tests of Longfield's tester: one judged and finished, one still running; each on a bike opened to them.

They draw from a chance of their own, so that the season around them stays as it is.
"""

from datetime import timedelta
from typing import Any, Final

import numpy as np

from fleet.catalogue.models import AXLES
from fleet.demo.bench import (
    BASELINE,
    CANDIDATE,
    Bench,
    fit,
    look,
    measure,
    ride_out,
    run,
    take_off,
    treads,
)
from fleet.demo.cast import Entrant
from fleet.demo.places import FULL, TrackDay
from fleet.demo.products import SOURCE
from fleet.demo.scene import LETTERS, Scene, midnight
from fleet.demo.stints import Garage
from fleet.trials.models import Step

SEED: Final = 1902
CLASS: Final = "1000 sport"
STEPS: Final = tuple(what for what in Step.What.values if what != "other")
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
    fit(bench, BASELINE, 8.0)
    measure(bench, BASELINE, 8.4)
    treads(bench, BASELINE, 8.5, 0.0)
    run(bench, BASELINE, 10.0, 7, 0.0, "consistency")
    fit(bench, CANDIDATE, 10.6)
    measure(bench, CANDIDATE, 11.0)
    treads(bench, CANDIDATE, 11.1, 0.0)
    run(bench, CANDIDATE, 11.5, 5, 2.5, "scrub_in")
    run(bench, CANDIDATE, 12.2, 6, -0.6, "settle")
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
    run(bench, CANDIDATE, 13.5, 7, -1.3, "change")
    run(bench, CANDIDATE, 14.2, 7, -1.4, "consistency")
    run(bench, BASELINE, 15.0, 7, 0.1, "consistency")
    treads(bench, BASELINE, 15.7, 0.6)
    treads(bench, CANDIDATE, 15.8, 1.1)
    look(bench, CANDIDATE, 15.9)
    ride_out(bench, CANDIDATE)
    take_off(bench, BASELINE, 1)
    take_off(bench, CANDIDATE, 9)


def _running(bench: Bench) -> None:
    """Write a test in its middle: the baseline run, the candidate fitted, measured and scrubbed in."""
    _plan(bench, "Does the Alder TD keep its pressure steadier than the Lowmoor TD in the heat?")
    _steps(bench, 6)
    fit(bench, BASELINE, 8.0)
    measure(bench, BASELINE, 8.4)
    treads(bench, BASELINE, 8.5, 0.0)
    run(bench, BASELINE, 10.0, 7, 0.0, "consistency")
    fit(bench, CANDIDATE, 10.6)
    measure(bench, CANDIDATE, 11.0)
    run(bench, CANDIDATE, 11.5, 5, 2.5, "scrub_in")
