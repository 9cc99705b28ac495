"""Tires riders reserved, with how far each reservation came."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any, Final

from fleet.accounts.policy import SERVICE
from fleet.exchange.columns import KEY_COLUMN, NO_KEYWORD, RECORDED, Column, Ending, Sheet, fact
from fleet.exchange.kinds import CODE, COUNT, DATE, MOMENT, TEXT
from fleet.inventory.actions import confirm_reservation, reserve, set_aside
from fleet.inventory.availability import reservations
from fleet.inventory.reservation import Reservation
from fleet.inventory.reserved import close_reservation

Ended = Reservation.End


def _confirm(row: Reservation, at: datetime, _reason: str) -> None:
    confirm_reservation(by=SERVICE, at=at, reservation=row)


def _set_aside(row: Reservation, at: datetime, _reason: str) -> None:
    set_aside(by=SERVICE, at=at, reservation=row)


def _end(row: Reservation, at: datetime, reason: str, *, how: str) -> None:
    close_reservation(row, how, by=SERVICE, at=at, reason=reason)


def _ended_as(how: str) -> Callable[[Reservation], Any]:
    return lambda row: row.ended_at if row.ended_as == how else None


def _moment(name: str, meaning: str, take: Any = "") -> Column:
    return Column(name, MOMENT, meaning, required=False, take=take, gives=NO_KEYWORD, living=True)


SHEETS: Final = (
    Sheet(
        name="reservations",
        about="Tires a vendor keeps for a rider until a day.",
        columns=(
            KEY_COLUMN,
            Column("rider", CODE, "Code from riders.csv.", take="rider.code", refers="rider"),
            Column("vendor", CODE, "Code from organisations.csv.", take="vendor.code", refers="organisation"),
            Column("spec", CODE, "Code from specs.csv.", take="spec.code", refers="spec"),
            Column("quantity", COUNT, "How many tires."),
            Column("wanted_on", DATE, "The day they are wanted on."),
            _moment("kept_at", "When the vendor confirmed."),
            _moment("ready_at", "When they were set aside on the trailer."),
            *(_moment(f"{one.value}_at", f"{one.label}: when.", _ended_as(one.value)) for one in Ended),
            Column(
                "release_reason",
                TEXT,
                "Why the vendor released it.",
                required=False,
                take="end_reason",
                gives=NO_KEYWORD,
                living=True,
            ),
            RECORDED,
        ),
        identity=("key",),
        rows=lambda: reservations().select_related("rider", "vendor", "spec"),
        add=fact(reserve),
        shelf="reservation",
        after=("listings",),
        phase=1,
        endings=(
            Ending("kept_at", "", _confirm),
            Ending("ready_at", "", _set_aside),
            Ending("withdrawn_at", "", partial(_end, how=Ended.WITHDRAWN)),
            Ending("released_at", "release_reason", partial(_end, how=Ended.RELEASED)),
            Ending("expired_at", "", partial(_end, how=Ended.EXPIRED)),
        ),
    ),
)
