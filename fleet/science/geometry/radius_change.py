"""How much larger the radius of a new tire is than that of the old one, from the ways there are to measure it.

A roll-out measures the rolling radius under load, a gap the free radius, and a size designation names the design
radius of an unloaded tire. Old and new tire give alike under the same load and pressure, so the *changes* can stand
for each other; where one carcass is softer, the roll-out sees a third of the difference in deflection and the gap none
of it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.tire_size import parse_size

Array = NDArray[np.float64]

ROLL_OUT_SD_MM: Final = 3.0
"""Standard deviation of one roll-out over one turn, bike upright and loaded; common practice, no published source."""

GAP_SD_MM: Final = 0.5
"""Standard deviation of one reading of a gap with a feeler or caliper; common practice, no published source."""

NOMINAL_RADIUS_SD_MM: Final = 3.0
"""Standard deviation of a tire's radius about its design radius between makers, lines and rims; common practice, no
published source."""


@dataclass(frozen=True)
class RadiusChange:
    """New radius less old, in mm, with its standard deviation.

    ``stretch`` says how far the readings behind it disagree: root mean square of their distances from the mean in
    standard deviations, 1 where they agree as well as their noise allows or where there is only one.
    """

    change_mm: Array
    sd_mm: Array
    stretch: Array


def from_rollout(
    before_mm: ArrayLike, after_mm: ArrayLike, reading_sd_mm: ArrayLike = ROLL_OUT_SD_MM
) -> RadiusChange:
    """Compute the change of the loaded rolling radius from the distances covered in one turn of the wheel.

    Parameters
    ----------
    before_mm, after_mm : array_like
        Roll-out of old and new tire in mm, above 0. NaN is a reading that was not taken.
    reading_sd_mm : array_like
        Standard deviation of one roll-out in mm, above 0.

    Raises
    ------
    ValueError
        If a roll-out or the standard deviation is not above 0.
    """
    turn = 2.0 * np.pi
    before = within("before_mm", before_mm, above=0.0)
    change = (within("after_mm", after_mm, above=0.0) - before) / turn
    return _reading(change, within("reading_sd_mm", reading_sd_mm, above=0.0) / turn)


def from_gap(before_mm: ArrayLike, after_mm: ArrayLike, reading_sd_mm: ArrayLike = GAP_SD_MM) -> RadiusChange:
    """Compute the change of the free radius from the gap between tread and a part that moves with the wheel.

    A gap smaller by 3 mm is a radius larger by 3 mm. The part must move with the wheel (mudguard on the fork, swingarm)
    and stand over the middle of the tread; a part of the sprung frame would mix in the suspension.

    Parameters
    ----------
    before_mm, after_mm : array_like
        Gap to old and to new tire in mm, at least 0. NaN is a reading that was not taken.
    reading_sd_mm : array_like
        Standard deviation of one reading in mm, above 0.

    Raises
    ------
    ValueError
        If a gap is negative or the standard deviation is not above 0.
    """
    before = within("before_mm", before_mm, at_least=0.0)
    change = before - within("after_mm", after_mm, at_least=0.0)
    return _reading(change, within("reading_sd_mm", reading_sd_mm, above=0.0))


def from_sizes(before: str, after: str, radius_sd_mm: ArrayLike = NOMINAL_RADIUS_SD_MM) -> RadiusChange:
    """Compute the change of the design radius between two size designations such as 180/55 ZR17.

    Tires of one designation differ between makers by millimeters, so the same designation twice is a change of 0 with
    a standard deviation that says how little is known.

    Parameters
    ----------
    before, after : str
        Size designations of old and new tire.
    radius_sd_mm : array_like
        Standard deviation of one tire's radius about its design radius in mm, above 0.

    Raises
    ------
    UnreadableSize
        If a text is no metric size designation.
    ValueError
        If the standard deviation is not above 0.
    """
    change = np.asarray(parse_size(after).radius_mm - parse_size(before).radius_mm)
    return _reading(change, within("radius_sd_mm", radius_sd_mm, above=0.0))


def combined(*changes: RadiusChange) -> RadiusChange:
    """Compute the best of several measurements of one change: the mean weighted with their inverse variances.

    Where they disagree beyond their noise, the standard deviation is stretched by the ratio of outer to inner spread
    [Birge1932]. A NaN, in value or spread, is a measurement that was not taken; where none was taken the result is NaN.

    Raises
    ------
    ValueError
        If no measurement is given.
    """
    if not changes:
        raise ValueError("changes must hold at least 1 measurement, not 0")
    values = np.stack(np.broadcast_arrays(*(one.change_mm for one in changes)))
    sds = np.stack(np.broadcast_arrays(*(one.sd_mm for one in changes), values[0])[:-1])
    weights = np.where(np.isnan(values) | np.isnan(sds), 0.0, sds**-2.0)
    total = weights.sum(axis=0)
    known = np.where(total > 0.0, total, np.nan)
    mean = np.where(weights > 0.0, weights * values, 0.0).sum(axis=0) / known
    spread = np.where(weights > 0.0, weights * (values - mean) ** 2, 0.0).sum(axis=0)
    spare = np.count_nonzero(weights, axis=0) - 1
    stretch = np.sqrt(np.maximum(spread / np.maximum(spare, 1), 1.0))
    return RadiusChange(mean, stretch / np.sqrt(known), np.where(total > 0.0, stretch, np.nan))


def _reading(change: Array, one_sd: Array) -> RadiusChange:
    """Return a difference of two readings, NaN in all where one was not taken."""
    sd = np.sqrt(2.0) * one_sd + 0.0 * change
    return RadiusChange(np.asarray(change), np.asarray(sd), np.asarray(1.0 + 0.0 * change))
