"""Bridge to the science of size designations."""

from fleet.errors import Invalid
from fleet.science.tire_size import parse_size


def check_size(text: str) -> None:
    """Refuse a size designation that cannot be read."""
    try:
        parse_size(text)
    except ValueError as error:
        raise Invalid(str(error), field="size") from error
