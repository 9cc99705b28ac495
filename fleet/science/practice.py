"""Hold every figure that is common practice of the trade with no published source.

Nothing here is measured or printed anywhere that could be cited. The figures are where an answer starts when a
fleet has no history of its own; each comes with a spread wide enough that a handful of readings outweighs it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

CATEGORIES: Final = ("road_sport", "track_day", "race_treaded", "slick", "wet")
CARCASSES: Final = ("soft", "medium", "stiff")
AXLES: Final = ("front", "rear")

REFERENCE_AIR_C: Final = 20.0
"""Air temperature a published pressure is taken to mean when it names none."""

USUAL_EFFORT: Final = 0.85
"""Share of the rider's own full pace that an ordinary stint is ridden at."""

EFFORT_SD: Final = 0.07
"""How far a stint's effort is from the usual where nobody says how hard it was or will be ridden."""

USUAL_TRACK_OVER_AIR_C: Final = 12.0
"""How much warmer than the air a track surface is on an ordinary riding day."""

RISE_PER_TRACK_C: Final = (0.25, 0.15)
"""Gas degrees per degree of track over air: typical size and spread."""

RISE_PER_EFFORT_C: Final = (20.0, 10.0)
"""Gas degrees per unit of effort: typical size and spread (a tenth more effort is two degrees)."""

RISE_SD_C: Final = 9.0
"""Spread of the settled rise between products, tracks, riders and stints together."""

WEAR_SIGMA: Final = 0.5
"""Spread of the logarithm of the wear rate between products, tracks, riders and tires together."""

RISE_SHARES: Final = MappingProxyType(
    {"category": 0.5, "product": 0.5, "track": 0.3, "rider": 0.4, "residual": 0.5},
)
"""Share of the rise's spread by cause; the squares add to one, so the parts restore the whole."""

WEAR_SHARES: Final = MappingProxyType(
    {"category": 0.5, "product": 0.55, "track": 0.35, "rider": 0.45, "residual": 0.35},
)
"""Share of the spread of the logarithm of the wear rate by cause; the squares add to one."""

EFFORT_EXPONENT: Final = 3.0
"""Middle of the published range of 2 to 4 for wear against cornering force; the choice within it is practice."""

USUAL_DAY_KM: Final = 110.0
"""Distance of one riding day on track."""

WEAR_DAY_SPREAD: Final = 0.3
"""Spread of one day's wear about what its distance, track and effort as they were logged say, as a share."""

WEAR_BEND_SD: Final = 0.2
"""Spread, over tires, of how much faster than on average one wears when new and slower when worn, as a share."""

ROAD_WEIGHT: Final = 0.1
"""Track kilometres that one road kilometre wears like."""

HEAT_CYCLE_SIGMA: Final = 0.25
"""Spread of the logarithm of the number of heat cycles a tire keeps its grip for."""

PRESSURE_GAUGE_SD_KPA: Final = 2.0
"""Standard deviation of one reading of an ordinary workshop pressure gauge, its user included."""

PRESSURE_REPEAT_SD_KPA: Final = 1.5
"""Standard deviation of a reading about others by the same gauge and hand: half a psi of scale, a moment's leak."""

AIR_SD_C: Final = 1.0
"""Standard deviation of the air at the tire during a stint about what was observed around that time."""

AIR_AHEAD_SD_C: Final = 1.3
"""Standard deviation of the air at the end of a slot about the last observation or the forecast for it."""

AIR_DRIFT_C_PER_H: Final = 1.0
"""How fast the air changes over a day on track, so that one figure for some hours of it holds less exactly."""

TIRE_TEMPERATURE_SD_C: Final = 2.0
"""Standard deviation of the tire's temperature when its pressure is set."""

DEPTH_GAUGE_SD_MM: Final = 0.2
"""Standard deviation of one reading of a tread depth gauge, its user included."""

NEW_DEPTH_SD_MM: Final = 0.3
"""Standard deviation of a new tire's depth about the depth stated for it."""

TIME_CONSTANT_LOG_SD: Final = 0.3
"""Spread of the logarithm of the time constants of heating and cooling between bikes and tires."""

STINT_CONSTANT_LOG_SD: Final = 0.1
"""Spread of the same from stint to stint of one tire: wind, speed, where it was put down."""


@dataclass(frozen=True)
class Practice:
    """Common practice for one category, carcass and axle: pressures in kPa gauge, depths in mm.

    ``working_c`` and ``cooled_c`` are gas temperatures on a day of reference air; on another day both move with it.
    """

    category: str
    carcass: str
    axle: str
    hot_target_kpa: float
    hot_target_sd_kpa: float
    settled_rise_c: float
    settled_rise_sd_c: float
    lower_kpa: float
    upper_kpa: float
    working_c: float
    cooled_c: float
    heat_cycle_guideline: float
    new_depth_mm: float
    new_depth_sd_mm: float
    wear_limit_mm: float
    wear_median_mm_per_1000km: float
    wear_sigma: float

    @property
    def life_km(self) -> float:
        """Return the median life in track kilometres from new to the wear limit."""
        return 1000.0 * (self.new_depth_mm - self.wear_limit_mm) / self.wear_median_mm_per_1000km


@dataclass(frozen=True)
class _AxleFigures:
    """Figures of a medium carcass on one axle of one category."""

    hot_kpa: float
    rise_c: float
    lower_kpa: float
    upper_kpa: float
    new_depth_mm: float
    wear_mm_per_1000km: float


@dataclass(frozen=True)
class _CategoryFigures:
    """Figures that front and rear of one category share."""

    working_c: float
    cooled_c: float
    heat_cycles: float
    front: _AxleFigures
    rear: _AxleFigures


_CATEGORY: Final = MappingProxyType(
    {
        "road_sport": _CategoryFigures(
            40.0, 30.0, 80.0,
            front=_AxleFigures(238.0, 28.0, 180.0, 270.0, 4.2, 1.5),
            rear=_AxleFigures(238.0, 34.0, 180.0, 300.0, 5.5, 2.8),
        ),
        "track_day": _CategoryFigures(
            45.0, 35.0, 45.0,
            front=_AxleFigures(226.0, 32.0, 160.0, 260.0, 4.2, 1.9),
            rear=_AxleFigures(216.0, 40.0, 150.0, 270.0, 5.2, 3.4),
        ),
        "race_treaded": _CategoryFigures(
            48.0, 37.0, 20.0,
            front=_AxleFigures(228.0, 36.0, 160.0, 260.0, 4.0, 3.0),
            rear=_AxleFigures(204.0, 45.0, 140.0, 250.0, 5.0, 5.0),
        ),
        "slick": _CategoryFigures(
            52.0, 40.0, 10.0,
            front=_AxleFigures(230.0, 42.0, 160.0, 260.0, 4.0, 4.5),
            rear=_AxleFigures(195.0, 52.0, 130.0, 240.0, 4.5, 7.0),
        ),
        "wet": _CategoryFigures(
            30.0, 22.0, 45.0,
            front=_AxleFigures(230.0, 15.0, 170.0, 260.0, 6.0, 3.5),
            rear=_AxleFigures(222.0, 20.0, 160.0, 260.0, 6.5, 5.0),
        ),
    },
)  # fmt: skip

# A soft sidewall is held up by more air and flexes itself hotter; a stiff one carries load by itself.
_CARCASS_HOT_KPA: Final = MappingProxyType({"soft": 4.0, "medium": 0.0, "stiff": -8.0})
_CARCASS_RISE_C: Final = MappingProxyType({"soft": 2.0, "medium": 0.0, "stiff": -2.0})

_HOT_TARGET_SD_KPA: Final = 10.0
_WEAR_LIMIT_MM: Final = 0.8


def _one_of(name: str, value: str, allowed: tuple[str, ...]) -> str:
    """Return the value, or refuse it by name with the words that would be right."""
    if value not in allowed:
        raise ValueError(f"{name} must be one of {', '.join(allowed)}; got {value!r}")
    return value


@cache
def practice(category: str, carcass: str, axle: str) -> Practice:
    """Return the figures of common practice for one kind of tire.

    Parameters
    ----------
    category : {"road_sport", "track_day", "race_treaded", "slick", "wet"}
    carcass : {"soft", "medium", "stiff"}
    axle : {"front", "rear"}

    Returns
    -------
    Practice
        Common practice, no published source. Pressures in kPa gauge, temperatures and rises in degrees C.

    Raises
    ------
    ValueError
        If a word is not one of those listed.
    """
    shared = _CATEGORY[_one_of("category", category, CATEGORIES)]
    own = shared.front if _one_of("axle", axle, AXLES) == "front" else shared.rear
    _one_of("carcass", carcass, CARCASSES)
    return Practice(
        category=category,
        carcass=carcass,
        axle=axle,
        hot_target_kpa=own.hot_kpa + _CARCASS_HOT_KPA[carcass],
        hot_target_sd_kpa=_HOT_TARGET_SD_KPA,
        settled_rise_c=own.rise_c + _CARCASS_RISE_C[carcass],
        settled_rise_sd_c=RISE_SD_C,
        lower_kpa=own.lower_kpa,
        upper_kpa=own.upper_kpa,
        working_c=shared.working_c,
        cooled_c=shared.cooled_c,
        heat_cycle_guideline=shared.heat_cycles,
        new_depth_mm=own.new_depth_mm,
        new_depth_sd_mm=NEW_DEPTH_SD_MM,
        wear_limit_mm=_WEAR_LIMIT_MM,
        wear_median_mm_per_1000km=own.wear_mm_per_1000km,
        wear_sigma=WEAR_SIGMA,
    )


def figures(known: Practice | Sequence[Practice], name: str) -> NDArray[np.float64]:
    """Return one figure of practice by its field's name, a scalar for one kind of tire, else one per entry.

    Parameters
    ----------
    known : Practice or sequence of Practice
    name : str
        One of the numbers of ``Practice``, such as ``hot_target_kpa``.
    """
    if isinstance(known, Practice):
        return np.asarray(getattr(known, name), dtype=np.float64)
    return np.array([getattr(one, name) for one in known], dtype=np.float64)
