"""What the first bytes of a file say: whether it is a JPEG or a PNG, how large its picture is, and whether it is whole.

Read before any decoder sees the file, so that a small file that claims to be a huge picture is refused unopened. JPEG: ITU-T
T.81 (1992), annex B, markers and frame header; PNG: W3C recommendation, third edition, 11.2.2 IHDR and 11.2.5 IEND.
"""

import struct
from typing import Final

from fleet.photos.errors import NoPhoto

JPEG: Final = "jpg"
PNG: Final = "png"
MOST_PIXELS: Final = 26_000_000
"""Four bytes each while it is decoded; telephones send twelve million, their finest setting left out."""
MOST_SCANS: Final = 100
"""Passes over a picture that is refined step by step; a camera makes about ten, and each costs as much as the picture."""
BROKEN: Final = "The photo is broken or was cut off: take it again, or save it again as JPEG."
_FRAMES: Final = frozenset({0xC0, 0xC1, 0xC2})
_ALONE: Final = frozenset({0x01, *range(0xD0, 0xD9)})
_SCAN, _END_OF_PICTURE = 0xDA, 0xD9


def checked(data: bytes) -> tuple[str, int, int]:
    """Return the kind, width and height of a picture.

    Raises
    ------
    NoPhoto
        If it is neither JPEG nor PNG, is cut off, or has more pixels than are decoded here.
    """
    if data.startswith(b"\xff\xd8\xff"):
        kind, (width, height) = JPEG, _size_of_jpeg(data)
    elif data.startswith(b"\x89PNG\r\n\x1a\n"):
        kind, (width, height) = PNG, _size_of_png(data)
    else:
        raise NoPhoto("This file is no photo in JPEG or PNG: save it as one of these.", field="photo")
    if not width or not height:
        raise NoPhoto(BROKEN, field="photo")
    if width * height > MOST_PIXELS:
        raise NoPhoto(
            f"The photo has {width * height / 1e6:.0f} million pixels: take one with at most {MOST_PIXELS // 1_000_000} million.",
            field="photo",
        )
    return kind, width, height


def _size_of_png(data: bytes) -> tuple[int, int]:
    if data[12:16] != b"IHDR" or len(data) < 33 or data.rfind(b"IEND") < 33:  # noqa: PLR2004 -- signature and first chunk
        raise NoPhoto(BROKEN, field="photo")
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def _size_of_jpeg(data: bytes) -> tuple[int, int]:
    """Walk the segments to the one frame, then to the scan that must follow it and the end of the picture."""
    sizes = []
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:  # noqa: PLR2004 -- every marker begins with it
        marker = data[at + 1]
        if marker in _ALONE:
            at += 2
            continue
        if marker == _SCAN:
            break
        if marker in _FRAMES and at + 9 <= len(data):
            height, width = struct.unpack(">HH", data[at + 5 : at + 9])
            sizes.append((width, height))
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    scans, ends = data.count(bytes((0xFF, _SCAN)), at), data.find(bytes((0xFF, _END_OF_PICTURE)), at)
    if len(sizes) != 1 or not 0 < scans <= MOST_SCANS or ends < 0:
        raise NoPhoto(BROKEN, field="photo")
    return sizes[0]
