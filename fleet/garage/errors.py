"""Refusals of the garage."""

from fleet.errors import Conflict


class HasAnAccount(Conflict):
    """A rider record that somebody has claimed."""

    code = "has-an-account"


class RidesAlready(Conflict):
    """Somebody who has a rider record of their own."""

    code = "rides-already"
