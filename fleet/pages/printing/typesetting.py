"""Sets the words of a sheet as PDF: tagged (PDF/UA-1), its typeface inside, the same bytes for the same words."""

import json
from collections.abc import Mapping
from functools import cache, partial
from pathlib import Path
from typing import Any, Final

import typst
from django.http import HttpResponse

HERE: Final = Path(__file__).parent
SHEETS: Final = HERE / "sheets"
TYPEFACE: Final = HERE / "vendor/atkinson-hyperlegible-next-2.001"
NOT_IN_A_TYPEFACE: Final = "could not be displayed with font"


def pdf_of(sheet: str, words: Mapping[str, Any]) -> bytes:
    """Return a sheet as PDF, set in memory without a file or a network.

    The standard forbids characters that no typeface at hand has. A name that holds one is set with empty boxes in their
    place, and the sheet then does not claim the standard.
    """
    compiler = typst.Compiler(
        SHEETS / f"{sheet}.typ",
        root=SHEETS,
        font_paths=_typefaces(),
        sys_inputs={"words": json.dumps(words)},
    )
    setting = partial(compiler.compile, format="pdf")
    try:
        return _whole(setting(pdf_standards=["ua-1"]))
    except typst.TypstError as error:
        if NOT_IN_A_TYPEFACE not in error.message:
            raise
        return _whole(setting())


def pdf_answer(sheet: str, words: Mapping[str, Any], *, name: str) -> HttpResponse:
    """Return a sheet as the answer to a browser, which shows it and keeps it under a name."""
    return answer_with(pdf_of(sheet, words), name=name)


def answer_with(pdf: bytes, *, name: str) -> HttpResponse:
    """Return a sheet that is set already as such an answer."""
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )


@cache
def _typefaces() -> typst.Fonts:
    # The compiler's own typefaces stand in for scripts ours does not have; the machine's would differ by machine.
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[TYPEFACE])


def _whole(found: bytes | list[bytes] | None) -> bytes:
    if not isinstance(found, bytes):
        raise TypeError("The typesetter returned no single file.")
    return found
