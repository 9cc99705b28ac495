"""Columns of gauges compared with a better one."""

from datetime import datetime
from typing import Final

from fleet.exchange.columns import Column, Ending, Sheet, fact, fact_columns
from fleet.exchange.kinds import CODE, MOMENT, NUMBER
from fleet.garage.actions import keep_comparison
from fleet.garage.comparison import GaugeComparison
from fleet.records import void


def _void(comparison: GaugeComparison, at: datetime, reason: str) -> None:
    """Void it alone: how far its gauge reads off by now stands in instruments.csv."""
    void(comparison, by=None, at=at, reason=reason)


SHEETS: Final = (
    Sheet(
        name="comparisons",
        about="Pressure gauges compared with a better one on the same tire.",
        columns=fact_columns(
            Column(
                "instrument", CODE, "Code from instruments.csv.", take="instrument.code", refers="instrument"
            ),
            Column(
                "master",
                CODE,
                "The better gauge: a code from instruments.csv.",
                required=False,
                take="master.code",
                refers="instrument",
            ),
            Column("own_kpa", NUMBER, "What the gauge showed, in kPa."),
            Column("master_kpa", NUMBER, "What the better one showed, in kPa."),
            Column("offset_kpa", NUMBER, "How far the gauge read off then, in kPa: reading minus truth."),
            Column("compared_at", MOMENT, "When."),
        ),
        identity=("key",),
        rows=lambda: GaugeComparison.objects.select_related("instrument", "master"),
        add=fact(keep_comparison),
        phase=1,
        happened="compared_at",
        endings=(Ending("voided_at", "void_reason", _void),),
    ),
)
