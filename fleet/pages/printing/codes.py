"""The code on a label: the address it leads to, as a drawing for scanners and as text for eyes."""

import io
from typing import Final
from urllib.parse import quote, urlsplit

import segno
from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from fleet.inventory.labels import in_groups, mark_of
from fleet.inventory.models import Tire

QUIET_MODULES: Final = 4
"""The clear border of ISO/IEC 18004, section 9.1."""
THIS_MACHINE: Final = {"127.0.0.1", "localhost", "::1"}


def address_of(tire: Tire, request: HttpRequest) -> str:
    """Return a tire's address in capitals, which such a code packs closest; scheme and host do not mind (RFC 3986, 6.2.2.1)."""
    return f"{origin(request).upper()}{reverse('found', args=[mark_of(tire)])}"


def address_in_words(tire: Tire, request: HttpRequest) -> tuple[str, str]:
    """Return the same address to be read and typed, in two lines."""
    mark = in_groups(mark_of(tire)).replace(" ", "-")
    return f"{urlsplit(origin(request)).netloc}{reverse('found', args=[mark]).removesuffix(mark)}", mark


def leads_here_only(request: HttpRequest) -> bool:
    """Return whether the address names this machine to itself, so that no other device reaches it."""
    return urlsplit(origin(request)).hostname in THIS_MACHINE


def drawn(address: str) -> str:
    """Return the QR code of an address as SVG: a quarter of it may be lost at level M or better, its border clear."""
    drawing = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        drawing, kind="svg", border=QUIET_MODULES, omitsize=True, light="#fff", xmldecl=False, nl=False
    )
    return drawing.getvalue().decode()


def as_image(svg: str) -> str:
    """Return a drawing as the address of an image."""
    return f"data:image/svg+xml,{quote(svg)}"


def origin(request: HttpRequest) -> str:
    """Return scheme and host of the addresses that leave the service: the ones set, else those this page was asked by."""
    return settings.PUBLIC_ADDRESS or request.build_absolute_uri("/").rstrip("/")
