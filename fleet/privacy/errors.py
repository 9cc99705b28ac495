"""Refusals of an erasure: what has to be settled first."""

from fleet.errors import Conflict


class LastInCharge(Conflict):
    """Somebody without whom an organisation has nobody in a role it cannot be without."""

    code = "last-in-charge"


class WheelsAtTheTrailer(Conflict):
    """A rider whose wheels were handed in and not collected yet."""

    code = "wheels-at-the-trailer"
