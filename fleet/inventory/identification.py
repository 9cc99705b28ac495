"""Bridge to the science of identification numbers and date codes."""

import secrets
from datetime import date

from fleet.errors import Invalid
from fleet.science.date_codes import WEEK_TOLERANCE, parse_tin

_UNAMBIGUOUS = "ABCDEFGHJKLMNPRTUVWXY346789"


def made_on(text: str, *, seen_on: date, field: str) -> date:
    """Return the first day of the week a tire was made in; an unreadable or ambiguous code is refused."""
    try:
        found = parse_tin(text, seen_on)
    except ValueError as error:
        raise Invalid(str(error), field=field) from error
    if found.made_on is None:
        decades = " or ".join(str(candidate.year) for candidate in found.candidates)
        raise Invalid(
            f"A three-digit date code leaves the decade open ({decades}): such a tire is over 25 years old and is "
            "not fitted.",
            field=field,
        )
    return found.made_on


def exists_on(made: date, day: date) -> bool:
    """Return whether a tire made in the week from ``made`` can exist on a day; counts of weeks differ by one."""
    return day >= made - WEEK_TOLERANCE


def new_label_code() -> str:
    """Return a short code for a tire's label, without letters that are mistaken for digits."""
    return "".join(secrets.choice(_UNAMBIGUOUS) for _ in range(8))
