"""Bridge to the science of identification numbers and date codes."""

import secrets
from datetime import date
from typing import Final

from fleet.errors import Invalid
from fleet.science.date_codes import WEEK_TOLERANCE, parse_tin

SHORT_PLANT: Final = 2
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


def plant_of(text: str, *, seen_on: date) -> str:
    """Return the plant in an identification number that was checked before; nothing where only its date is known."""
    return parse_tin(text, seen_on).plant if text.strip() else ""


def plant_spellings(plant: str) -> list[str]:
    """Return how a plant may stand on a tire: since 2015 a plant of two symbols is written with a 1 before it [CFR574]."""
    if len(plant) == SHORT_PLANT:
        return [plant, f"1{plant}"]
    return [plant, plant[1:]] if plant.startswith("1") else [plant]


def exists_on(made: date, day: date) -> bool:
    """Return whether a tire made in the week from ``made`` can exist on a day; counts of weeks differ by one."""
    return day >= made - WEEK_TOLERANCE


def new_label_code() -> str:
    """Return a short code for a tire's label, without letters that are mistaken for digits."""
    return "".join(secrets.choice(_UNAMBIGUOUS) for _ in range(8))
