"""Refusals about idempotency keys."""

from fleet.errors import Conflict, Invalid


class KeyInProgress(Conflict):
    """An idempotency key whose first request has not been answered yet."""

    code = "idempotency-key-in-progress"


class KeyOfAnotherRequest(Invalid):
    """An idempotency key sent again with another request."""

    code = "idempotency-key-reused"
