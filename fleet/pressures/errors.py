"""Refusals about guidance and bulletins."""

from fleet.errors import Conflict


class NoConditions(Conflict):
    """A day without weather, which nothing can be computed for."""

    code = "no-conditions"


class NothingToIssue(Conflict):
    """A day without a usable draft."""

    code = "nothing-to-issue"


class OutOfDate(Conflict):
    """A draft that something has overtaken since it was looked at."""

    code = "out-of-date"


class IssuedAlready(Conflict):
    """A bulletin somebody else issued first."""

    code = "issued-already"


class NotInForce(Conflict):
    """A bulletin that was superseded or withdrawn before."""

    code = "not-in-force"
