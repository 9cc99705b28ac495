"""Writes of what a rider says of advice, and of heat cycles that were none."""

import uuid
from datetime import datetime

from django.db import transaction

from fleet.accounts.policy import Actor, author
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.garage.queries import require_owner
from fleet.inventory.models import Tire
from fleet.inventory.revisions import ASSESS, touch
from fleet.records import earlier, once, store, void
from fleet.running.actions.access import check_standing
from fleet.running.models import AdviceAnswer, CycleCorrection, Stint
from fleet.running.queries import ran


@once
@transaction.atomic
def answer_advice(
    *,
    by: Actor,
    at: datetime,
    stint: Stint,
    advised: str,
    answer: str,
    axle: str = "",
    change_kpa: float | None = None,
    key: uuid.UUID | None = None,
) -> AdviceAnswer:
    """Store what the rider says of the advice after a stint, together with what was advised."""
    require_owner(by, stint.wheel_pair.bike.rider)
    content = {
        "stint_id": stint.pk,
        "advised": advised,
        "axle": axle,
        "change_kpa": change_kpa,
        "answer": answer,
    }
    if stored := earlier(AdviceAnswer, key, **content):
        return stored
    check_standing(stint)
    return store(
        AdviceAnswer(
            id=key or uuid.uuid4(),
            stint=stint,
            advised=advised,
            axle=axle,
            change_kpa=change_kpa,
            answer=answer,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


@once
@transaction.atomic
def correct_cycle(
    *, by: Actor, at: datetime, tire: Tire, stint: Stint, key: uuid.UUID | None = None
) -> CycleCorrection:
    """Store the rider's word that a stint did not take a tire through a heat cycle; its life is computed anew."""
    require_owner(by, stint.wheel_pair.bike.rider)
    if stored := earlier(CycleCorrection, key, tire_id=tire.pk, stint_id=stint.pk):
        return stored
    check_standing(stint)
    if not ran(tire, stint):
        raise Invalid("This tire did not run that stint: choose one of the two that did.", field="tire")
    correction = store(
        CycleCorrection(
            id=key or uuid.uuid4(), tire=tire, stint=stint, recorded_by=author(by), recorded_at=at
        )
    )
    touch(tire.pk)
    wake(ASSESS)
    return correction


@transaction.atomic
def void_answer(*, by: Actor, at: datetime, answer: AdviceAnswer, reason: str) -> None:
    """Mark an answer as wrong."""
    require_owner(by, answer.stint.wheel_pair.bike.rider)
    void(answer, by=author(by), at=at, reason=reason)


@transaction.atomic
def void_cycle_correction(*, by: Actor, at: datetime, correction: CycleCorrection, reason: str) -> None:
    """Mark a correction as wrong: the heat cycle counts again."""
    require_owner(by, correction.stint.wheel_pair.bike.rider)
    void(correction, by=author(by), at=at, reason=reason)
    touch(correction.tire_id)
    wake(ASSESS)
