"""Columns of what tech inspection found; photos are no part of the folder, a backup holds them."""

from datetime import datetime
from typing import Final

from fleet.exchange.columns import Column, Ending, Sheet, fact, fact_columns
from fleet.exchange.kinds import CODE, KEY, MOMENT, TEXT, choice
from fleet.inventory.actions import inspect_tire
from fleet.inventory.inspection import Inspection
from fleet.records import void


def _void(inspection: Inspection, at: datetime, reason: str) -> None:
    """Void it alone: what became of its hold stands in holds.csv."""
    void(inspection, by=None, at=at, reason=reason)


SHEETS: Final = (
    Sheet(
        name="inspections",
        about="What tech inspection found on tires before they went out.",
        columns=fact_columns(
            Column("tire", CODE, "Label of the tire.", take="tire.label_code", refers="tire"),
            Column(
                "inspected_for",
                CODE,
                "Whose inspection it was.",
                take="inspected_for.code",
                refers="organisation",
            ),
            Column("outcome", choice(Inspection.Outcome), "What came of it."),
            Column("words", TEXT, "What was seen; needed unless it passed.", required=False, default=""),
            Column("inspected_at", MOMENT, "When."),
            Column(
                "hold",
                KEY,
                "Key from holds.csv of the hold it led to; a new one is placed without it.",
                required=False,
                take="hold_id",
                refers="hold",
            ),
        ),
        identity=("key",),
        rows=lambda: Inspection.objects.select_related("tire", "inspected_for"),
        add=fact(inspect_tire),
        after=("fittings", "removals"),
        phase=5,
        happened="inspected_at",
        endings=(Ending("voided_at", "void_reason", _void),),
    ),
)
