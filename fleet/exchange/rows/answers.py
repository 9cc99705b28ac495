"""Columns of what riders say of advice, and of heat cycles that were none."""

from datetime import datetime
from typing import Final

from fleet.accounts.policy import SERVICE
from fleet.catalogue.models import Axle
from fleet.exchange.columns import Column, Ending, Sheet, fact, fact_columns
from fleet.exchange.kinds import KEY, NUMBER, choice
from fleet.exchange.rows.running import AFTER_FITTINGS, TIRE
from fleet.running.actions import answer_advice, correct_cycle, void_answer, void_cycle_correction
from fleet.running.models import AdviceAnswer, CycleCorrection

STINT: Final = Column("stint", KEY, "Key from stints.csv.", take="stint_id", refers="stint")


def _void_answer(answer: AdviceAnswer, at: datetime, reason: str) -> None:
    void_answer(by=SERVICE, at=at, answer=answer, reason=reason)


def _void_correction(correction: CycleCorrection, at: datetime, reason: str) -> None:
    void_cycle_correction(by=SERVICE, at=at, correction=correction, reason=reason)


SHEETS: Final = (
    Sheet(
        name="advice_answers",
        about="What riders say of the change advised after a stint.",
        columns=fact_columns(
            STINT,
            Column("advised", choice(AdviceAnswer.Advised), "What was advised."),
            Column(
                "axle", choice(Axle), "At which end; empty for the whole bike.", required=False, default=""
            ),
            Column("change_kpa", NUMBER, "Change of the start pressure in kPa.", required=False),
            Column("answer", choice(AdviceAnswer.Answer), "Whether it was done, or what came of it."),
        ),
        identity=("key",),
        rows=AdviceAnswer.objects.all,
        add=fact(answer_advice),
        phase=5,
        endings=(Ending("voided_at", "void_reason", _void_answer),),
    ),
    Sheet(
        name="cycle_corrections",
        about="Stints that did not warm a tire through, by its owner's word.",
        columns=fact_columns(TIRE, STINT),
        identity=("key",),
        rows=lambda: CycleCorrection.objects.select_related("tire"),
        add=fact(correct_cycle),
        after=AFTER_FITTINGS,
        phase=5,
        endings=(Ending("voided_at", "void_reason", _void_correction),),
    ),
)
