"""The steps of a test: added, done or skipped, and moved in their order."""

from django.db import transaction
from django.db.models import QuerySet

from fleet.accounts.models import What
from fleet.accounts.policy import Actor
from fleet.accounts.trail import correct, kept_by, note, note_made
from fleet.errors import Invalid
from fleet.records import store
from fleet.trials.models import Step, TireTest
from fleet.trials.queries import require_tester

MOST_STEPS = 60


@transaction.atomic
def add_step(
    *,
    by: Actor,
    test: TireTest,
    what: str = Step.What.OTHER,
    words: str = "",
    state: str = Step.State.OPEN,
    position: int | None = None,
) -> Step:
    """Store one more step, last in the order unless a free place is named."""
    require_tester(by, test.organisation)
    last = _held(test).order_by("-position").first()
    if test.steps.count() >= MOST_STEPS:
        raise Invalid(
            f"A test has at most {MOST_STEPS} steps: skip or reword one that stands.", field="words"
        )
    place = position if position is not None else (last.position + 1 if last else 1)
    step = store(Step(test=test, position=place, what=what, words=words.strip(), state=state))
    return note_made(step, by=by, **kept_by(test.organisation, rider=test.bike.rider_id))


@transaction.atomic
def correct_step(*, by: Actor, step: Step, state: str | None = None, words: str | None = None) -> Step:
    """Mark a step as done, skipped or to do again, or reword it."""
    require_tester(by, step.test.organisation)
    given = {"state": state, "words": None if words is None else words.strip()}
    told = {name: value for name, value in given.items() if value is not None}
    return correct(step, told, by=by, **kept_by(step.test.organisation, rider=step.test.bike.rider_id))


@transaction.atomic
def move_step(*, by: Actor, step: Step, earlier: bool) -> Step:
    """Let a step change places with the one before or after it; the first and the last stay where they are."""
    require_tester(by, step.test.organisation)
    steps = list(_held(step.test).order_by("position", "id"))
    place = next(place for place, one in enumerate(steps) if one.pk == step.pk)
    other_place = place - 1 if earlier else place + 1
    if not 0 <= other_place < len(steps):
        return step
    mine, other = steps[place], steps[other_place]
    was, becomes = mine.position, other.position
    free = max(one.position for one in steps) + 1
    for row, position in ((other, free), (mine, becomes), (other, was)):
        Step.objects.filter(pk=row.pk).update(position=position)
    note(
        mine,
        What.MOVED,
        by=by,
        before={"position": was},
        after={"position": becomes},
        **kept_by(step.test.organisation, rider=step.test.bike.rider_id),
    )
    step.refresh_from_db()
    return step


def _held(test: TireTest) -> QuerySet[Step]:
    TireTest.objects.select_for_update(no_key=True).get(pk=test.pk)
    return Step.objects.filter(test=test)
