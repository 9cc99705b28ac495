"""What speaks against running a job."""

from fleet.errors import NotFound


class NoSuchJob(NotFound):
    """A job nobody ever named."""

    code = "no-such-job"
