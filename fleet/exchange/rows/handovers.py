"""Columns of tires that changed hands; offers nobody answered stay out, since their links end with the database."""

from datetime import datetime
from typing import Any, Final

from fleet.accounts.policy import Actor
from fleet.exchange.columns import NO_KEYWORD, Column, Sheet, fact
from fleet.exchange.kinds import CODE, MOMENT
from fleet.inventory.actions import hand_over
from fleet.inventory.handover import Handover
from fleet.inventory.ownership import done


def _hand_over(*, by: Actor, at: datetime, handed_at: datetime, **given: Any) -> Handover:
    del at
    return hand_over(by=by, at=handed_at, **given)


SHEETS: Final = (
    Sheet(
        name="handovers",
        about="Tires that one rider handed over to another.",
        columns=(
            Column("tire", CODE, "Label of the tire.", take="tire.label_code", refers="tire"),
            Column("giver", CODE, "Who had it, from riders.csv.", take="giver.code", refers="rider"),
            Column(
                "taker", CODE, "Who has it from then on, from riders.csv.", take="taker.code", refers="rider"
            ),
            Column("handed_at", MOMENT, "When it was taken over."),
            Column(
                "recorded_at",
                MOMENT,
                "When it was written down, which is when it was taken over.",
                required=False,
                take="handed_at",
                gives=NO_KEYWORD,
                living=True,
            ),
        ),
        identity=("tire", "handed_at"),
        rows=lambda: done().select_related("tire", "giver", "taker"),
        add=fact(_hand_over),
        after=("fittings", "removals", "tires"),
        phase=3,
        happened="handed_at",
    ),
)
