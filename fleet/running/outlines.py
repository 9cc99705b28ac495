"""Bridge to the science of tread outlines: points of a contour gauge to a curve."""

from collections.abc import Sequence
from typing import Final

from fleet.errors import Invalid
from fleet.running.models import ContourReading
from fleet.science.profile import Profile, fit_profile

WIDEST_MM: Final = 300.0
MOST_POINTS: Final = 400


def outline_of(reading: ContourReading) -> Profile:
    """Return the curve through the points of a stored reading."""
    return fit_profile(reading.x_mm, reading.z_mm)


def check_outline(x_mm: Sequence[float], z_mm: Sequence[float]) -> None:
    """Refuse points through which no outline of a tread can be laid."""
    if len(x_mm) != len(z_mm):
        raise Invalid(
            f"Every point has a place across and a height: {len(x_mm)} places and {len(z_mm)} heights were given.",
            field="x_mm",
        )
    if len(x_mm) > MOST_POINTS:
        raise Invalid(f"{len(x_mm)} points are too many: {MOST_POINTS} are plenty.", field="x_mm")
    if any(abs(value) > WIDEST_MM for value in (*x_mm, *z_mm)):
        raise Invalid(
            f"A point lies within {WIDEST_MM:.0f} mm of the gauge's zero: check the unit.", field="x_mm"
        )
    try:
        fit_profile(x_mm, z_mm)
    except ValueError as error:
        raise Invalid(f"No outline fits these points: {error}.", field="x_mm") from error
