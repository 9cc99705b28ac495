"""Planning a tire test, correcting its plan, giving its verdict and ending it."""

from datetime import date
from typing import Any

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Service
from fleet.accounts.trail import correct, kept_by, note_made
from fleet.catalogue.models import AXLES, TireSpec
from fleet.errors import Conflict, Invalid
from fleet.events.models import Layout
from fleet.garage.models import Bike, WheelPair
from fleet.garage.queries import opens_to
from fleet.records import store
from fleet.trials.errors import NotShared
from fleet.trials.models import Side, Step, TireTest
from fleet.trials.queries import require_tester

PROPOSED = tuple(what for what in Step.What.values if what != Step.What.OTHER)
"""The trade's order of a test; free to change afterwards."""


@transaction.atomic
def plan_test(
    *,
    by: Actor,
    organisation: Organisation,
    code: str,
    bike: Bike,
    question: str,
    planned_on: date,
    baseline_front: TireSpec,
    baseline_rear: TireSpec,
    baseline_pair: WheelPair,
    candidate_front: TireSpec,
    candidate_rear: TireSpec,
    candidate_pair: WheelPair,
    layout: Layout | None = None,
    held_constant: str = "",
    ridden_by: str = "",
    gearbox_teeth: int | None = None,
    wheel_teeth: int | None = None,
    mass_height_mm: float | None = None,
    with_steps: bool = True,
) -> TireTest:
    """Store a test of two sets on a bike that its rider opens to the testers, with the steps the trade proposes."""
    require_tester(by, organisation)
    if not isinstance(by, Service) and not opens_to(bike.rider, organisation):
        raise NotShared(
            f"The rider of this bike does not share it with {organisation.name}: ask them to share their stints with "
            f"{organisation.name} first, in their garage under “Who can see my data”.",
            field="bike",
        )
    test = TireTest(
        organisation=organisation,
        code=code,
        bike=bike,
        question=question,
        planned_on=planned_on,
        baseline_front=baseline_front,
        baseline_rear=baseline_rear,
        baseline_pair=baseline_pair,
        candidate_front=candidate_front,
        candidate_rear=candidate_rear,
        candidate_pair=candidate_pair,
        layout=layout,
        held_constant=held_constant,
        ridden_by=ridden_by,
        gearbox_teeth=gearbox_teeth,
        wheel_teeth=wheel_teeth,
        mass_height_mm=mass_height_mm,
    )
    _check(test)
    owners = kept_by(organisation, rider=bike.rider_id)
    note_made(store(test), by=by, **owners)
    for position, what in enumerate(PROPOSED if with_steps else (), start=1):
        note_made(store(Step(test=test, position=position, what=what)), by=by, **owners)
    return test


@transaction.atomic
def correct_test(*, by: Actor, test: TireTest, **given: Any) -> TireTest:
    """Correct what was planned; what the runs rest on (bike, wheels, specs) stays once there is a run."""
    require_tester(by, test.organisation)
    fixed = {name for name in given if name.startswith(("baseline_", "candidate_"))}
    moved = {name for name in fixed if getattr(test, f"{name}_id") != given[name].pk}
    if moved and test.runs.filter(voided_at__isnull=True).exists():
        raise Conflict(
            "The test has runs on these sets: void the runs first, or plan another test.",
            field=min(moved),
        )
    planned = TireTest(**{**{name: getattr(test, name) for name in _ROWS}, **_rows_in(given)})
    _check(planned)
    return correct(test, given, by=by, **kept_by(test.organisation, rider=test.bike.rider_id))


@transaction.atomic
def judge_test(*, by: Actor, test: TireTest, verdict: str, judged_on: date) -> TireTest:
    """Store the verdict in the tester's own words; the test goes on until the set is removed."""
    require_tester(by, test.organisation)
    if not verdict.strip():
        raise Invalid("A verdict is given in words: say what you would tell a customer.", field="verdict")
    if judged_on < test.planned_on:
        raise Invalid(
            f"The test is planned for {test.planned_on}: a verdict comes on that day or after.",
            field="judged_on",
        )
    given = {"verdict": verdict.strip(), "judged_on": judged_on}
    return correct(test, given, by=by, **kept_by(test.organisation, rider=test.bike.rider_id))


@transaction.atomic
def end_test(*, by: Actor, test: TireTest, ended_on: date, final_remark: str = "") -> TireTest:
    """Store that the set was removed, or is followed no longer, with a final remark."""
    require_tester(by, test.organisation)
    if test.judged_on is None:
        raise Conflict("The test has no verdict yet: write the verdict first.", field="ended_on")
    if ended_on < test.judged_on:
        raise Invalid(
            f"The verdict was given on {test.judged_on}: a test ends on that day or after.", field="ended_on"
        )
    given = {"ended_on": ended_on, "final_remark": final_remark.strip()}
    return correct(test, given, by=by, **kept_by(test.organisation, rider=test.bike.rider_id))


_ROWS = ("bike", *(f"{side}_{part}" for side in Side.values for part in ("front", "rear", "pair")))


def _rows_in(given: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in given.items() if name in _ROWS}


def _check(test: TireTest) -> None:
    for side in Side.values:
        if test.pair(side).bike_id != test.bike_id:
            raise Invalid(
                "These wheels belong to another bike: choose wheels of the bike under test.",
                field=f"{side}_pair",
            )
        for axle in AXLES:
            spec = test.specs(side)[axle]
            if spec.axle != axle:
                raise Invalid(
                    f"{spec} is a {spec.axle} tire: choose one for the {axle}.", field=f"{side}_{axle}"
                )
