"""The units people read and write quantities in, each with both conversions to SI: one table for pages and API alike."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from fleet.science.units import (
    KPA_PER_INHG,
    MM_PER_INCH,
    bar_from_kpa,
    c_from_fahrenheit,
    fahrenheit_from_c,
    inch32_from_mm,
    kpa_from_bar,
    kpa_from_inhg,
    kpa_from_psi,
    mm_from_inch32,
    psi_from_kpa,
)

MINUS: Final = "\N{MINUS SIGN}"
KM_PER_MILE: Final = 1.609344
KPA_PER_HPA: Final = 0.1


@dataclass(frozen=True)
class Unit:
    """A unit a person may read: its sign, how many decimals make sense, the step of its buttons, both conversions."""

    sign: str
    decimals: int
    step: float
    shown: Callable[[float], float]
    stored: Callable[[float], float]

    def figure(self, value: float) -> str:
        """Return an SI value as a number in this unit, without the sign of the unit."""
        return f"{self.shown(value):.{self.decimals}f}".replace("-", MINUS)


PRESSURE: Final = {
    "psi": Unit("psi", 1, 0.5, lambda v: float(psi_from_kpa(v)), lambda v: float(kpa_from_psi(v))),
    "bar": Unit("bar", 2, 0.02, lambda v: float(bar_from_kpa(v)), lambda v: float(kpa_from_bar(v))),
    "kPa": Unit("kPa", 0, 2.0, float, float),
}
AIR_PRESSURE: Final = {
    "hPa": Unit("hPa", 0, 1.0, lambda v: v / KPA_PER_HPA, lambda v: v * KPA_PER_HPA),
    "inHg": Unit("inHg", 2, 0.01, lambda v: v / KPA_PER_INHG, lambda v: float(kpa_from_inhg(v))),
}
TEMPERATURE: Final = {
    "C": Unit("°C", 0, 1.0, float, float),
    "F": Unit("°F", 0, 1.0, lambda v: float(fahrenheit_from_c(v)), lambda v: float(c_from_fahrenheit(v))),
}
DEPTH: Final = {
    "mm": Unit("mm", 1, 0.1, float, float),
    "32nds": Unit("/32 in", 1, 0.5, lambda v: float(inch32_from_mm(v)), lambda v: float(mm_from_inch32(v))),
}
LENGTH: Final = {
    "mm": Unit("mm", 0, 1.0, float, float),
    "in": Unit("in", 2, 0.1, lambda v: v / MM_PER_INCH, lambda v: v * MM_PER_INCH),
}
DISTANCE: Final = {
    "km": Unit("km", 0, 1.0, float, float),
    "mi": Unit("mi", 0, 1.0, lambda v: v / KM_PER_MILE, lambda v: v * KM_PER_MILE),
}
