"""Reads a printed sheet back: its words, its pages, its typefaces, its tags."""

import io
import re
from html.parser import HTMLParser

from pypdf import PdfReader


def closed_up(text):
    """The words without any space, for a line ends elsewhere on every paper."""
    return re.sub("[\\s\N{ZERO WIDTH SPACE}]+", "", text)


def pages_of(pdf):
    return PdfReader(io.BytesIO(pdf)).pages


def words_of_pdf(pdf):
    return closed_up("".join(page.extract_text() for page in pages_of(pdf)))


def size_mm(page):
    return tuple(round(float(side) * 25.4 / 72) for side in (page.mediabox.width, page.mediabox.height))


def typefaces_of(pdf):
    """Each typeface by name, with whether its letters are inside the file."""
    found = {}
    for page in pages_of(pdf):
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            found[described["/FontName"]] = "/FontFile2" in described or "/FontFile3" in described
    return found


def standard_of(pdf):
    """The part of the accessible standard the file claims, its language, and whether it is tagged."""
    root = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    claimed = re.search(r"<pdfuaid:part>(\d)</pdfuaid:part>", root["/Metadata"].get_data().decode())
    return claimed and claimed.group(1), root["/Lang"], bool(root["/MarkInfo"]["/Marked"])


class _Sheet(HTMLParser):
    """Collects what stands in the articles of a page, without drawings."""

    def __init__(self):
        super().__init__()
        self.depth, self.hidden, self.found = 0, 0, []

    def handle_starttag(self, tag, _attrs):
        self.depth += tag == "article"
        self.hidden += tag == "svg"

    def handle_endtag(self, tag):
        self.depth -= tag == "article"
        self.hidden -= tag == "svg"

    def handle_data(self, data):
        if self.depth and not self.hidden:
            self.found.append(data)


def words_of_html(page):
    sheet = _Sheet()
    sheet.feed(page)
    return closed_up("".join(sheet.found))
