"""Refusals about stints and readings."""

from fleet.errors import Conflict, Invalid


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
