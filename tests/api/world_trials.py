"""More rows for the world: a tire test of Longfield's testers with Robin's bike; whether Robin shares is for a test to say."""

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import gather_note
from fleet.running.actions import record_contour
from fleet.trials.actions import add_run, plan_test

ACROSS = [-60.0, -45.0, -30.0, -15.0, 0.0, 15.0, 30.0, 45.0, 60.0]
HEIGHTS = [round((90.0**2 - x**2) ** 0.5 - 90.0, 3) for x in ACROSS]


def grow_trials(world, number):
    """Add a test with its steps, a run of the newest stint, an outline, and a note its testers gathered."""
    rider, longfield = world.rider, world.longfield
    tires = {axle: fitting.tire.spec for axle, fitting in world.fitted.items()}
    test = plan_test(
        by=SERVICE,
        organisation=longfield,
        code=f"test-{number}",
        bike=world.wheel_pair.bike,
        question="Does the other rear last longer?",
        planned_on=world.now.date(),
        baseline_front=tires["front"],
        baseline_rear=tires["rear"],
        baseline_pair=world.wheel_pair,
        candidate_front=tires["front"],
        candidate_rear=world.rows["spec"],
        candidate_pair=world.wheel_pair,
        layout=world.layout,
    )
    run = add_run(
        by=SERVICE, at=world.now, test=test, stint=world.rows["stint"], purpose="consistency", words="even"
    )
    contour = record_contour(
        by=rider.person,
        at=world.now,
        tire=world.fitted["rear"].tire,
        taken_at=world.now,
        x_mm=ACROSS,
        z_mm=HEIGHTS,
    )
    note = gather_note(
        by=SERVICE,
        at=world.now,
        organisation=longfield,
        spec=world.rows["spec"],
        basis="hot",
        pressure_kpa=214.0,
        noted_on=world.now.date(),
        source=f"a tester's notebook {number}",
    )
    world.rows |= {
        "reference-note": note,
        "tire-test": test,
        "test-step": test.steps.get(position=2),
        "test-run": run,
        "contour": contour,
    }
