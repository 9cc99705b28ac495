"""Units chosen for the input of one request: a field then ends in its unit, ``pressure_psi`` for ``pressure_kpa``.

What is not chosen stays SI, and so do all answers. A name always says its unit: no choice makes one mean something else.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from fleet.quantities import AIR_PRESSURE, DEPTH, DISTANCE, LENGTH, PRESSURE, TEMPERATURE, Unit

PARAMETER: Final = "units"
DECIMALS: Final = 9  # conversions are exact to here; what follows is noise of binary fractions
Chosen: TypeAlias = Mapping[str, str]
"""The unit chosen for each quantity, both by name."""


@dataclass(frozen=True)
class Other:
    """A unit other than the SI one of its quantity, as field names end in it."""

    quantity: str
    unit: Unit
    words: str


OTHERS: Final = {
    "psi": Other("pressure", PRESSURE["psi"], "pounds-force per square inch, gauge"),
    "bar": Other("pressure", PRESSURE["bar"], "bar, gauge"),
    "f": Other("temperature", TEMPERATURE["F"], "degrees Fahrenheit"),
    "inch32": Other("depth", DEPTH["32nds"], "thirty-seconds of an inch"),
    "in": Other("length", LENGTH["in"], "inches"),
    "mi": Other("distance", DISTANCE["mi"], "miles"),
    "hpa": Other("air pressure", AIR_PRESSURE["hPa"], "hPa"),
    "inhg": Other("air pressure", AIR_PRESSURE["inHg"], "inches of mercury"),
}
_AIR: Final = frozenset({"barometer_kpa", "altimeter_kpa"})
# The first ending that fits counts.
_ENDINGS: Final = {
    "_kpa": "pressure",
    "_c": "temperature",
    "depth_mm": "depth",
    "_mm": "length",
    "_km": "distance",
}


def chosen_units(request: Request) -> Chosen:
    """Return the units a request chose, one a quantity; one nobody knows is refused with the list."""
    said = [name for text in request.query_params.getlist(PARAMETER) for name in text.split(",") if name]
    if unknown := sorted(set(said) - set(OTHERS)):
        raise ValidationError(
            {
                PARAMETER: [
                    f"{', '.join(unknown)} cannot be chosen: choose among {', '.join(OTHERS)}, or none for SI."
                ]
            }
        )
    chosen: dict[str, str] = {}
    for name in said:
        before = chosen.setdefault(OTHERS[name].quantity, name)
        if before != name:
            raise ValidationError(
                {PARAMETER: [f"{before} and {name} are both units of {OTHERS[name].quantity}: choose one."]}
            )
    return chosen


def quantity_of(name: str) -> str | None:
    """Return the quantity that a field with an SI name holds, where another unit can be chosen for it."""
    if name in _AIR:
        return "air pressure"
    return next((quantity for ending, quantity in _ENDINGS.items() if name.endswith(ending)), None)


def named_in(name: str, unit: str) -> str:
    """Return the name of a field that holds the same in another unit."""
    return f"{name.rpartition('_')[0]}_{unit}"


def spoken(name: str, chosen: Chosen) -> str:
    """Return the name a field has under the units chosen."""
    unit = chosen.get(quantity_of(name) or "")
    return named_in(name, unit) if unit else name


def others_of(name: str) -> Iterable[str]:
    """Return the units that can be chosen for a field with an SI name."""
    quantity = quantity_of(name)
    return (unit for unit, other in OTHERS.items() if other.quantity == quantity)


def in_si(value: Any, unit: str) -> Any:
    """Return a number of another unit in SI; what is no number is for the field to refuse."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    try:
        return round(OTHERS[unit].unit.stored(float(value)), DECIMALS)
    except OverflowError:
        return value


def hint_for(name: str, fields: Iterable[str], chosen: Chosen) -> str | None:
    """Return what would be right instead of a name in a unit that was not chosen."""
    for field in fields:
        if name == field and spoken(field, chosen) != field:
            return f"{chosen[quantity_of(field) or '']} was chosen: give {spoken(field, chosen)} instead."
        for unit in others_of(field):
            if name == named_in(field, unit):
                return f"Give {spoken(field, chosen)}, or choose the unit: add {PARAMETER}={unit} to the address."
    return None
