"""Tire tests, their steps and their runs."""

from datetime import datetime
from typing import Any, Final

from fleet.accounts.policy import SERVICE
from fleet.catalogue.models import AXLES
from fleet.exchange.columns import NO_KEYWORD, Cells, Column, Ending, Sheet, fact, fact_columns, thing
from fleet.exchange.kinds import CODE, COUNT, DATE, KEY, NUMBER, TEXT, choice
from fleet.trials.actions import add_run, add_step, end_test, judge_test, plan_test, void_run
from fleet.trials.models import Run, Side, Step, TireTest


def _plan(**given: Any) -> TireTest:
    return plan_test(with_steps=False, **given)


def _judge(test: TireTest, cells: Cells) -> None:
    if cells["judged_on"] is not None:
        judge_test(by=SERVICE, test=test, verdict=cells["verdict"], judged_on=cells["judged_on"])
    if cells["ended_on"] is not None:
        end_test(by=SERVICE, test=test, ended_on=cells["ended_on"], final_remark=cells["final_remark"])


def _void_run(run: Run, at: datetime, reason: str) -> Run:
    return void_run(by=SERVICE, at=at, run=run, reason=reason)


def _later(name: str, kind: Any, meaning: str) -> Column:
    return Column(name, kind, meaning, required=False, gives=NO_KEYWORD, living=True)


def _set_columns(side: str) -> tuple[Column, ...]:
    return (
        *(
            Column(
                f"{side}_{axle}",
                CODE,
                f"Spec of the {side} set's {axle} tire: a code from specs.csv.",
                take=f"{side}_{axle}.code",
                refers="spec",
            )
            for axle in AXLES
        ),
        Column(
            f"{side}_pair",
            CODE,
            f"Wheels the {side} set runs on: a code from wheel_pairs.csv.",
            take=f"{side}_pair.code",
            refers="wheel_pair",
        ),
    )


TEST: Final = Column("test", CODE, "Code from tire_tests.csv.", take="test.code", refers="tire_test")

SHEETS: Final = (
    Sheet(
        name="tire_tests",
        about="Planned comparisons of two sets of tires on one bike.",
        columns=(
            Column("code", CODE, "Short name other files refer to."),
            Column(
                "organisation",
                CODE,
                "Who tests: a code from organisations.csv.",
                take="organisation.code",
                refers="organisation",
            ),
            Column("bike", CODE, "Code from bikes.csv.", take="bike.code", refers="bike"),
            Column("question", TEXT, "What is to be found out."),
            Column("planned_on", DATE, "Day it is planned for."),
            *_set_columns(Side.BASELINE.value),
            *_set_columns(Side.CANDIDATE.value),
            Column(
                "layout", CODE, "Code from layouts.csv.", required=False, take="layout.code", refers="layout"
            ),
            Column("held_constant", TEXT, "What stays as it is.", required=False),
            Column("ridden_by", TEXT, "Riders beside the bike's own.", required=False),
            Column("gearbox_teeth", COUNT, "Teeth of the sprocket on the gearbox.", required=False),
            Column("wheel_teeth", COUNT, "Teeth of the sprocket on the rear wheel.", required=False),
            Column(
                "mass_height_mm", NUMBER, "Height of the center of mass with rider, in mm.", required=False
            ),
            _later("judged_on", DATE, "Day of the verdict."),
            _later("verdict", TEXT, "The verdict in the tester's own words."),
            _later("ended_on", DATE, "Day the set was removed or followed no longer."),
            _later("final_remark", TEXT, "The last word about the set."),
        ),
        identity=("code",),
        rows=lambda: TireTest.objects.select_related(
            "organisation",
            "bike",
            "layout",
            *(f"{side}_{part}" for side in Side.values for part in ("front", "rear", "pair")),
        ),
        add=thing(_plan),
        shelf="tire_test",
        settle=_judge,
    ),
    Sheet(
        name="test_steps",
        about="What is to be done in a tire test, in order.",
        columns=(
            TEST,
            Column("position", COUNT, "Place in the order, from 1.", living=True),
            Column("what", choice(Step.What), "What is done."),
            Column(
                "words",
                TEXT,
                "More about it, or what it is where it is something else.",
                required=False,
                living=True,
            ),
            Column(
                "state",
                choice(Step.State),
                "Whether it is done.",
                required=False,
                default="open",
                living=True,
            ),
        ),
        identity=("test", "position"),
        rows=lambda: Step.objects.select_related("test"),
        add=thing(add_step),
    ),
    Sheet(
        name="test_runs",
        about="Stints that count in a tire test.",
        columns=fact_columns(
            TEST,
            Column("stint", KEY, "Key from stints.csv.", take="stint_id", refers="stint"),
            Column("purpose", choice(Run.Purpose), "What it was ridden for."),
            Column("words", TEXT, "In free words.", required=False),
        ),
        identity=("key",),
        rows=lambda: Run.objects.select_related("test"),
        add=fact(add_run),
        after=("fittings", "removals"),
        phase=6,
        endings=(Ending("voided_at", "void_reason", _void_run),),
    ),
)
