"""What speaks against a photo."""

from fleet.errors import Invalid


class NoPhoto(Invalid):
    """A file that is no picture this service can keep."""

    code = "no-photo"
