"""Refusals about stints and readings."""

from typing import NamedTuple

from fleet.errors import Conflict, Invalid, Refusal


class NothingFitted(Conflict):
    """A stint on a wheel pair with an empty axle."""

    code = "nothing-fitted"


class StintVoided(Conflict):
    """A reading or note for a stint that was voided."""

    code = "stint-voided"


class AboveNew(Invalid):
    """A tread depth that no tire of this spec ever had."""

    code = "above-new"


class DistanceUnknown(Invalid):
    """A stint without laps and without a distance."""

    code = "distance-unknown"


class Doubt(NamedTuple):
    """A value that may be right and looks wrong: its field, what is odd about it, and the numbers, in SI, that say so."""

    field: str
    kind: str
    value: float
    against: float | None = None


class Doubtful(Refusal):
    """A stint with values that look wrong and were not confirmed; nothing was stored."""

    code = "doubtful"

    def __init__(self, doubts: list[Doubt]) -> None:
        super().__init__("Some values look wrong: mend them, or confirm that they are right.")
        self.doubts = doubts
