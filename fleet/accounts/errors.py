"""Refusals of the accounts."""

from fleet.errors import Conflict


class OfferOver(Conflict):
    """A role taken before, or by somebody else at the same moment."""

    code = "offer-over"


class TooManyKeys(Conflict):
    """One more API key than anybody can look after."""

    code = "too-many-keys"


class LastManager(Conflict):
    """The end of a role without which nobody would look after an organisation's people."""

    code = "last-manager"


class KeyShownBefore(Conflict):
    """An API key that was made and shown before; it is never shown again."""

    code = "key-shown-before"
