"""A photo made anew from its pixels: whatever else a file carried, where it was taken, by whom and with what, stays behind.

The typesetter that prints the sheets decodes it and draws it as a PNG of bounded size, the right way up. It is the one decoder
this service has, written in a language whose programs do not read beyond their memory; a file is decoded for real or refused.
"""

import struct
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import typst

from fleet.photos.errors import NoPhoto
from fleet.photos.headers import BROKEN, checked

MOST_BYTES: Final = 12 * 1024 * 1024
LONGEST_PX: Final = 1280
SHEET: Final = """\
#set page(width: auto, height: auto, margin: 0pt)
#context {
  let picture(..size) = image("photo", format: sys.inputs.kind, ..size)
  let found = measure(picture())
  let scale = float(sys.inputs.longest) * 1pt / calc.max(found.width, found.height)
  picture(width: found.width * scale, height: found.height * scale)
}
"""
"""A page as large as its picture: at 72 dots an inch a point is a pixel."""


@dataclass(frozen=True)
class Picture:
    """A PNG with its size."""

    content: bytes
    width_px: int
    height_px: int


def cleaned(data: bytes) -> Picture:
    """Return a photo drawn anew, at most ``LONGEST_PX`` on its longer side.

    Raises
    ------
    NoPhoto
        If it is too large, neither JPEG nor PNG, cut off, or cannot be decoded.
    """
    if len(data) > MOST_BYTES:
        raise too_large(len(data))
    kind, width, height = checked(data)
    content = _drawn(data, kind, min(max(width, height), LONGEST_PX))
    return Picture(content, *struct.unpack(">II", content[16:24]))


def too_large(byte_count: int) -> NoPhoto:
    """Return the refusal of a photo with so many bytes."""
    return NoPhoto(
        f"The photo has {byte_count / 1e6:.0f} MB: send at most {MOST_BYTES // 2**20} MB, take it with fewer pixels.",
        field="photo",
    )


def _drawn(data: bytes, kind: str, longest_px: int) -> bytes:
    with tempfile.TemporaryDirectory(prefix="photo-") as name:
        folder = Path(name)
        (folder / "photo").write_bytes(data)
        (folder / "sheet.typ").write_text(SHEET)
        compiler = typst.Compiler(
            folder / "sheet.typ",
            root=folder,
            font_paths=typst.Fonts(include_system_fonts=False, include_embedded_fonts=False),
            sys_inputs={"kind": kind, "longest": str(longest_px)},
        )
        try:
            found = compiler.compile(format="png", ppi=72.0)
        except typst.TypstError:
            raise NoPhoto(BROKEN, field="photo") from None
    if not isinstance(found, bytes):
        raise TypeError("The typesetter returned no single picture.")
    return found
