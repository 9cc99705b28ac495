"""The sheets in a real browser: open to everybody on a phone, and each prints on one sheet of its paper."""

import io

import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image

from fleet.inventory.labels import mark_of
from tests.pages.browser import check, sign_in
from tests.pages.printing.reading import pages_of, size_mm

pytestmark = pytest.mark.browser
PRINTS = {"prefer_css_page_size": True}


@pytest.mark.parametrize(("paper", "width_mm"), [("a6", 105), ("roll", 80)])
@pytest.mark.parametrize("name", ["Robin Vale", "Wilhelmina-Annunziata " * 4])
def test_the_slip_prints_on_one_sheet(page, ticket, rider, guidance, assessed, fitter, paper, width_mm, name):
    rider.name = name
    rider.save()
    sign_in(page, fitter)

    page.goto(reverse("slip", args=[ticket.pk]) + f"?paper={paper}")

    check(page, 64)
    (sheet,) = pages_of(page.pdf(**PRINTS))
    assert size_mm(sheet)[0] == width_mm


@pytest.mark.parametrize(("paper", "size", "sheets"), [("label", (62, 29), 2), ("sheet", (210, 297), 1)])
@pytest.mark.parametrize("line_name", ["Lowmoor TD", "Superlongus " * 5])
def test_labels_print_one_to_a_label_or_together_on_a_sheet(
    page, ticket, line, assessed, fitter, paper, size, sheets, line_name
):
    line.name = line_name.strip()
    line.save()
    sign_in(page, fitter)

    page.goto(reverse("ticket-labels", args=[ticket.pk]) + f"?paper={paper}")

    check(page, 64)
    assert not page.evaluate(
        "[...document.querySelectorAll('.tag, .tag-spec')].some(one => one.scrollHeight > one.clientHeight + 2)"
    ), "nothing is cut off"
    printed = pages_of(page.pdf(**PRINTS))
    assert len(printed) == sheets
    assert {size_mm(sheet) for sheet in printed} == {size}


def test_a_scanner_reads_the_label_off_the_screen(page, server, assessed, rider):
    tire = assessed["rear"].tire
    sign_in(page, rider.person)
    page.goto(reverse("label", args=[tire.pk]))

    check(page, 48)
    seen = Image.open(io.BytesIO(page.locator(".tag").screenshot()))
    (code,) = zxingcpp.read_barcodes(seen)
    assert code.text == f"{server.url}/W/{mark_of(tire)}".upper()


def test_whoever_finds_a_wheel_reads_it_on_a_phone(page, assessed):
    page.goto(reverse("found", args=[mark_of(assessed["rear"].tire)]))

    check(page, 48)


def test_an_unknown_code_is_as_open_to_everybody(another):
    page = another(viewport={"width": 320, "height": 700})

    assert page.goto(reverse("found", args=["A" * 16])).status == 404

    check(page, 48)
