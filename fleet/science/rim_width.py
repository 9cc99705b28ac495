"""The rims that motorcycle tires usually go on, by nominal width and aspect ratio.

Common practice, no published source: widths of rim that makers of tires commonly allow for a size, from memory. The
list of the tire's own maker, and the sizes named by the bike's papers, come first.
"""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from fleet.science.tire_size import TireSize

TOLERANCE_IN: Final = 0.02
"""Rounding of a rim width that was written down in inches or millimeters."""


@dataclass(frozen=True)
class RimRange:
    """The narrowest and the widest rim in inches that a size usually goes on."""

    narrowest_in: float
    widest_in: float

    def holds(self, rim_in: float) -> bool:
        """Return whether a rim lies within the range."""
        return self.narrowest_in - TOLERANCE_IN <= rim_in <= self.widest_in + TOLERANCE_IN


RIMS_IN: Final = MappingProxyType(
    {
        (90, 80): (1.85, 2.50), (90, 90): (1.85, 2.50), (100, 80): (2.15, 2.75), (100, 90): (2.15, 2.75),
        (110, 70): (2.75, 3.50), (110, 80): (2.15, 3.00), (120, 60): (3.25, 3.75), (120, 70): (3.25, 3.75),
        (120, 80): (2.50, 3.50), (130, 70): (3.50, 4.00), (130, 80): (2.50, 3.50), (140, 60): (3.75, 4.50),
        (140, 70): (3.50, 4.50), (140, 80): (3.50, 4.00), (150, 60): (4.00, 4.50), (150, 70): (3.50, 4.50),
        (160, 60): (4.25, 5.00), (170, 60): (4.25, 5.00), (180, 55): (5.50, 6.00), (180, 60): (5.00, 5.50),
        (190, 50): (5.50, 6.00), (190, 55): (5.50, 6.25), (200, 50): (6.00, 6.50), (200, 55): (6.00, 6.50),
        (200, 60): (6.00, 6.50), (200, 65): (6.00, 6.50), (240, 45): (8.00, 9.00),
    }
)  # fmt: skip
"""Narrowest and widest rim in inches by width in mm and aspect ratio in percent."""


def usual_rims(size: TireSize) -> RimRange | None:
    """Return the rims a size usually goes on, or nothing where practice has no word for it."""
    found = RIMS_IN.get((size.width_mm, size.aspect))
    return RimRange(*found) if found else None
