"""Refusals of tire tests."""

from fleet.errors import Conflict, Invalid


class NotShared(Invalid):
    """A bike whose rider does not share it with the organisation that tests."""

    code = "not-shared"


class SameTwice(Invalid):
    """A comparison of a set with itself."""

    code = "same-twice"


class NotInThisTest(Invalid):
    """A stint that ran on none of the two sets of a test."""

    code = "not-in-this-test"


class RunsAlready(Conflict):
    """A stint that is a run of the test already."""

    code = "runs-already"
