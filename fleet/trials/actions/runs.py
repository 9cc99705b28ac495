"""Which stints count in a test."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.policy import Actor, author
from fleet.records import earlier, once, store, void
from fleet.running.models import Stint
from fleet.trials.errors import NotInThisTest, RunsAlready
from fleet.trials.models import Run, TireTest
from fleet.trials.queries import require_opened, require_tester, side_of


@once
@transaction.atomic
def add_run(
    *,
    by: Actor,
    at: datetime,
    test: TireTest,
    stint: Stint,
    purpose: str,
    words: str = "",
    key: uuid.UUID | None = None,
) -> Run:
    """Store that a stint is a run of a test; on which set it ran is told by the tires that were on, and by nothing else."""
    require_tester(by, test.organisation)
    if stored := earlier(Run, key, test_id=test.pk, stint_id=stint.pk, purpose=purpose, words=words):
        return stored
    require_opened(by, test)
    side = side_of(test, stint)
    if side is None or stint.voided_at is not None:
        raise NotInThisTest(
            "That stint was ridden on neither set of this test: choose one ridden on the baseline or the candidate "
            "tires, on the wheels planned for them.",
            field="stint",
        )
    if Run.objects.filter(test=test, stint=stint, voided_at__isnull=True).exists():
        raise RunsAlready("This stint is a run of the test already: void that run first.", field="stint")
    return store(
        Run(
            id=key or uuid.uuid4(),
            test=test,
            stint=stint,
            side=side,
            purpose=purpose,
            words=words,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


@transaction.atomic
def void_run(*, by: Actor, at: datetime, run: Run, reason: str) -> Run:
    """Mark a run as wrong: the stint stays, and counts in this test no longer."""
    require_tester(by, run.test.organisation)
    void(run, by=author(by), at=at, reason=reason)
    return run
