"""What the breadth of a tire does at lean, for a tread whose outline is one arc."""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

Array = NDArray[np.float64]

LYING_DEG: Final = 90.0


def tread_shift_mm(crown_radius_mm: ArrayLike, lean_deg: ArrayLike) -> Array:
    """Compute the way in mm of the contact along the tread from the crown, ``t lean`` with lean in radians.

    Raises
    ------
    ValueError
        If a radius is not above 0 or a lean is outside 0 to 90 degrees.
    """
    return _crown(crown_radius_mm) * _lean(lean_deg)


def rolling_radius_at_lean_mm(radius_mm: ArrayLike, crown_radius_mm: ArrayLike, lean_deg: ArrayLike) -> Array:
    """Compute the radius in mm a leaned tire rolls on, ``R - t (1 - cos(lean))`` [Cossalter2006].

    Parameters
    ----------
    radius_mm : array_like
        Radius at the crown, larger than the crown radius.
    crown_radius_mm : array_like
        Radius of the tread's outline across the tire, above 0.
    lean_deg : array_like
        Of the wheel from upright, 0 to 90 degrees.

    Raises
    ------
    ValueError
        If a figure is outside its range.
    """
    crown = _crown(crown_radius_mm)
    radius = within("radius_mm", radius_mm, above=0.0)
    within("radius_mm less crown_radius_mm", radius - crown, above=0.0)
    return radius - crown * (1.0 - np.cos(_lean(lean_deg)))


def extra_lean_deg(crown_radius_mm: ArrayLike, cg_height_mm: ArrayLike, lean_deg: ArrayLike) -> Array:
    """Compute how many degrees more a bike must lean than one on infinitely thin tires, in the same corner.

    ``asin(t sin(lean) / (h - t))`` [Cossalter2006]: the law of sines in the triangle of contact, center of the outline
    and center of mass. Both wheels are taken to have one crown radius.

    Parameters
    ----------
    crown_radius_mm : array_like
        Radius t of the tread's outline across the tire, above 0.
    cg_height_mm : array_like
        Center of mass h of bike and rider over the ground, upright; at least twice the crown radius.
    lean_deg : array_like
        Lean on thin tires, which the corner's speed and radius fix; 0 to 90 degrees.

    Raises
    ------
    ValueError
        If a figure is outside its range.
    """
    crown = _crown(crown_radius_mm)
    arm = within("cg_height_mm", cg_height_mm, above=0.0) - crown
    within("cg_height_mm less twice crown_radius_mm", arm - crown, at_least=0.0)
    return np.degrees(np.arcsin(crown * np.sin(_lean(lean_deg)) / arm))


def _crown(crown_radius_mm: ArrayLike) -> Array:
    return within("crown_radius_mm", crown_radius_mm, above=0.0)


def _lean(lean_deg: ArrayLike) -> Array:
    return np.radians(within("lean_deg", lean_deg, at_least=0.0, at_most=LYING_DEG))
