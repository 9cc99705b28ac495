"""Refusals: what the domain says when something cannot be done, each with a stable code and a full sentence.

The three kinds tell the callers how to answer; the domain itself knows no HTTP.
"""

from enum import StrEnum


class Kind(StrEnum):
    """Why a request was refused, in the few ways a caller has to tell apart."""

    INVALID = "invalid"
    CONFLICT = "conflict"
    FORBIDDEN = "forbidden"
    MISSING = "missing"
    BUSY = "busy"


class Refusal(Exception):  # noqa: N818 - refusals are named as states (TireOnHold), not as errors
    """Something that was asked for and not done; nothing was written."""

    kind = Kind.INVALID
    code = "refused"

    def __init__(self, sentence: str, *, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


class Invalid(Refusal):
    """A value that cannot be right, whatever the state of things."""

    code = "invalid"


class Conflict(Refusal):
    """A request that the present state of things does not allow."""

    kind = Kind.CONFLICT
    code = "conflict"


class NotAllowed(Refusal):
    """A request by somebody whose role is too small."""

    kind = Kind.FORBIDDEN
    code = "not-allowed"


class NotFound(Refusal):
    """A request about something that does not exist for the person who asks."""

    kind = Kind.MISSING
    code = "not-found"


class InTheFuture(Invalid):
    """A fact dated after the moment it is recorded."""

    code = "in-the-future"


class KeyReused(Conflict):
    """A client key sent again with another content."""

    code = "key-reused"


class AlreadyVoided(Conflict):
    """A fact that was voided before."""

    code = "already-voided"
