"""What stands on a tire's label: its code in groups, its date code, and the mark by which its address is found."""

import base64
import binascii
import re
import uuid
from typing import Final

from fleet.inventory.models import Tire

GROUP: Final = 4
MARK_BYTES: Final = 10
_SEPARATORS: Final = re.compile(r"[\s·-]+")
_MISTAKEN: Final = str.maketrans("018", "OIB")


def in_groups(code: str) -> str:
    """Return a code in groups of four, as it is read aloud."""
    return " ".join(code[start : start + GROUP] for start in range(0, len(code), GROUP))


def without_groups(text: str) -> str:
    """Return a typed code without what separates its groups."""
    return _SEPARATORS.sub("", text).upper()


def date_code_of(tire: Tire) -> str:
    """Return the four digits of week and year on a tire's sidewall, or nothing where they are not known."""
    if tire.lot is not None:
        return tire.lot.date_code
    digits = re.search(r"\d{4}$", tire.identification)
    return digits.group() if digits and tire.made_on else ""


def mark_of(tire: Tire) -> str:
    """Return the mark in the address on a label: the first 80 bits of the tire's id, 74 of them random."""
    return base64.b32encode(tire.id.bytes[:MARK_BYTES]).decode()


def ids_marked(mark: str) -> tuple[uuid.UUID, uuid.UUID] | None:
    """Return the lowest and the highest id that carry a mark, or nothing where it is no mark at all."""
    try:
        begun = base64.b32decode(without_groups(mark).translate(_MISTAKEN))
    except (binascii.Error, ValueError):
        return None
    if len(begun) != MARK_BYTES:
        return None
    rest = 16 - MARK_BYTES
    return uuid.UUID(bytes=begun + b"\x00" * rest), uuid.UUID(bytes=begun + b"\xff" * rest)
