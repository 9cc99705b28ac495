"""Size designations of motorcycle tires, and the design size, load and speed they stand for [UNR75].

Only metric designations such as 120/70 ZR17 M/C (58W) carry a width and an aspect ratio from which a
diameter follows; inch and letter designations are refused.
"""

import re
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

Construction = Literal["radial", "diagonal", "bias-belted"]

# The rim diameter in mm of a rim code; codes other than 16 to 21 from memory.
RIM_MM: Final = {
    10: 254, 11: 279, 12: 305, 13: 330, 14: 356, 15: 381, 16: 406, 17: 432, 18: 457, 19: 483, 20: 508, 21: 533,
}  # fmt: skip

# The greatest load in kg of a load index [FR1994]; the indices its test does not list are from memory.
LOAD_KG: Final = {
    40: 140, 41: 145, 42: 150, 43: 155, 44: 160, 45: 165, 46: 170, 47: 175, 48: 180, 49: 185, 50: 190, 51: 195,
    52: 200, 53: 206, 54: 212, 55: 218, 56: 224, 57: 230, 58: 236, 59: 243, 60: 250, 61: 257, 62: 265, 63: 272,
    64: 280, 65: 290, 66: 300, 67: 307, 68: 315, 69: 325, 70: 335, 71: 345, 72: 355, 73: 365, 74: 375, 75: 387,
    76: 400, 77: 412, 78: 425, 79: 437, 80: 450, 81: 462, 82: 475,
}  # fmt: skip

# The greatest speed in km/h of a speed symbol [FR1994]; J to N, W and Y from memory.
SPEED_KMH: Final = {
    "J": 100, "K": 110, "L": 120, "M": 130, "N": 140, "P": 150, "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200,
    "H": 210, "V": 240, "W": 270, "Y": 300,
}  # fmt: skip

Z_SPEED_KMH: Final = 240
NARROWEST_MM: Final = 50
WIDEST_MM: Final = 400
LOWEST_ASPECT: Final = 25
HIGHEST_ASPECT: Final = 100

_CONSTRUCTIONS: Final[dict[str, Construction]] = {
    "R": "radial", "-": "diagonal", "D": "diagonal", "B": "bias-belted",
}  # fmt: skip
_LETTERS: Final[dict[Construction, str]] = {"radial": "R", "diagonal": "-", "bias-belted": "B"}
_METRIC: Final = re.compile(
    r"(?P<width>\d{2,3})/(?P<aspect>\d{2,3})"
    r"(?P<over>Z?)(?P<construction>[-RDB])(?P<rim>\d{2})"
    r"(?P<cycle>M/?C)?"
    r"(?P<service>\(?\d{2,3}[A-Z]\)?)?"
    r"(?:TUBELESS|TL|TT)?"
)
_SERVICE: Final = re.compile(r"(?P<open>\()?(?P<load>\d{2,3})(?P<speed>[A-Z])(?P<close>\))?")
_INCH: Final = re.compile(r"\d{1,2}[.,]\d{1,3}(?:/\d{2,3})?[-A-Z]+\d{2}.*")
_LETTERED: Final = re.compile(r"M[A-Z]\d{2}[-A-Z]+\d{2}.*")


class UnreadableSize(ValueError):  # noqa: N818 - refusals are named as states
    """A text that is no metric size designation, with a sentence that says what one looks like."""


@dataclass(frozen=True)
class TireSize:
    """A size designation taken apart; load index and speed symbol are None where it gives none.

    ``is_over_240`` is the Z in the size; ``is_bracketed`` a service description in brackets, for a tire that
    may go faster than its speed symbol says.
    """

    width_mm: int
    aspect: int
    construction: Construction
    rim_code: int
    is_over_240: bool = False
    has_cycle_mark: bool = False
    load_index: int | None = None
    speed_symbol: str | None = None
    is_bracketed: bool = False

    @property
    def designation(self) -> str:
        """Return the designation in its regular spelling."""
        over = "Z" if self.is_over_240 else ""
        gap = "" if self.construction == "diagonal" else " "
        text = f"{self.width_mm}/{self.aspect}{gap}{over}{_LETTERS[self.construction]}{self.rim_code}"
        text += " M/C" if self.has_cycle_mark else ""
        if self.load_index is None:
            return text
        service = f"{self.load_index}{self.speed_symbol}"
        return f"{text} ({service})" if self.is_bracketed else f"{text} {service}"

    @property
    def section_height_mm(self) -> float:
        """Return the design height from rim to tread in mm."""
        return self.width_mm * self.aspect / 100

    @property
    def diameter_mm(self) -> float:
        """Return the design diameter in mm, unloaded."""
        return float(diameter_mm(self.width_mm, self.aspect, RIM_MM[self.rim_code]))

    @property
    def radius_mm(self) -> float:
        """Return the design radius in mm, unloaded."""
        return self.diameter_mm / 2

    @property
    def load_kg(self) -> int | None:
        """Return the greatest load in kg of the load index, None without one."""
        return None if self.load_index is None else LOAD_KG[self.load_index]

    @property
    def speed_kmh(self) -> int | None:
        """Return the speed in km/h of the speed symbol, or of the Z in the size; None without either."""
        if self.speed_symbol is not None:
            return SPEED_KMH[self.speed_symbol]
        return Z_SPEED_KMH if self.is_over_240 else None

    @property
    def is_speed_a_floor(self) -> bool:
        """Return whether the maker allows more than ``speed_kmh``: brackets, or a Z without a symbol."""
        return self.is_bracketed or (self.is_over_240 and self.speed_symbol is None)


def diameter_mm(width_mm: ArrayLike, aspect: ArrayLike, rim_mm: ArrayLike) -> NDArray[np.float64]:
    """Compute the design diameter in mm of unloaded tires, D = d + 2 H with H = width x aspect / 100 [UNR75].

    Parameters
    ----------
    width_mm, rim_mm
        Nominal section width and rim diameter d, above 0; ``RIM_MM`` gives d by rim code.
    aspect
        Height of the section in percent of its width, 25 to 100.

    Raises
    ------
    ValueError
        If a width or rim diameter is not above 0, or an aspect ratio in percent is outside 25 to 100.
    """
    width = within("width_mm", width_mm, above=0.0)
    percent = within("aspect", aspect, at_least=LOWEST_ASPECT, at_most=HIGHEST_ASPECT)
    return within("rim_mm", rim_mm, above=0.0) + 2.0 * width * percent / 100.0


def parse_size(text: str) -> TireSize:
    """Read a metric size designation such as 120/70 ZR17 M/C (58W), 120/70R17 or 120/70-17 [UNR75].

    Spaces and case do not matter; M/C, the service description and a tube mark may be missing.

    Raises
    ------
    UnreadableSize
        If the text is an inch or letter designation, no designation at all, or holds a width, aspect ratio, rim
        code, load index or speed symbol that does not exist.
    """
    compact = re.sub(r"\s+", "", text).upper()
    if _INCH.fullmatch(compact) or _LETTERED.fullmatch(compact):
        raise UnreadableSize(
            f"{text.strip()} is an inch or letter designation, which gives no aspect ratio; give the metric size, "
            f"such as 110/80-18."
        )
    found = _METRIC.fullmatch(compact)
    if found is None:
        raise UnreadableSize(
            f"{text.strip() or 'An empty text'} is not a size designation; it must look like 120/70 ZR17 M/C (58W), "
            f"120/70R17 or 120/70-17."
        )
    width, aspect, rim = int(found["width"]), int(found["aspect"]), int(found["rim"])
    _refuse_numbers(width, aspect, rim)
    load, speed, is_bracketed = _service(found["service"])
    return TireSize(
        width_mm=width,
        aspect=aspect,
        construction=_CONSTRUCTIONS[found["construction"]],
        rim_code=rim,
        is_over_240=bool(found["over"]),
        has_cycle_mark=bool(found["cycle"]),
        load_index=load,
        speed_symbol=speed,
        is_bracketed=is_bracketed,
    )


def _refuse_numbers(width: int, aspect: int, rim: int) -> None:
    if not NARROWEST_MM <= width <= WIDEST_MM:
        raise UnreadableSize(f"The width must be {NARROWEST_MM} to {WIDEST_MM} mm, not {width}.")
    if not LOWEST_ASPECT <= aspect <= HIGHEST_ASPECT:
        raise UnreadableSize(
            f"The second number must be an aspect ratio of {LOWEST_ASPECT} to {HIGHEST_ASPECT} percent, not {aspect}."
        )
    if rim not in RIM_MM:
        raise UnreadableSize(f"The rim code must be {min(RIM_MM)} to {max(RIM_MM)}, not {rim}.")


def _service(text: str | None) -> tuple[int | None, str | None, bool]:
    if text is None:
        return None, None, False
    found = _SERVICE.fullmatch(text)
    if found is None or bool(found["open"]) != bool(found["close"]):
        raise UnreadableSize(f"{text} has one bracket; write the service description as 58W or (58W).")
    load, speed = int(found["load"]), found["speed"]
    if load not in LOAD_KG:
        raise UnreadableSize(f"The load index must be {min(LOAD_KG)} to {max(LOAD_KG)}, not {load}.")
    if speed not in SPEED_KMH:
        raise UnreadableSize(f"The speed symbol must be one of {' '.join(SPEED_KMH)}, not {speed}.")
    return load, speed, bool(found["open"])
