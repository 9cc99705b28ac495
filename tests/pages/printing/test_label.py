"""The label: a code scanners read, a short code people read, and nothing about the rider."""

import re
from urllib.parse import unquote

import pypdfium2
import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import add_own_tire
from fleet.inventory.labels import ids_marked, in_groups, mark_of
from fleet.pages.printing.codes import drawn
from tests.pages.printing.reading import (
    pages_of,
    size_mm,
    standard_of,
    typefaces_of,
    words_of_html,
    words_of_pdf,
)


def scanned(pdf):
    """What a scanner reads off the pages of a PDF."""
    document = pypdfium2.PdfDocument(pdf)
    return [
        code.text
        for page in document
        for code in zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil())
    ]


@pytest.fixture
def tire(assessed):
    return assessed["rear"].tire


def test_a_scanner_reads_the_address_off_the_label(as_, fitter, tire, settings):
    settings.PUBLIC_ADDRESS = "https://tires.example.org"

    pdf = as_(fitter).get(reverse("label-pdf", args=[tire.pk])).content

    (address,) = scanned(pdf)
    assert address == f"HTTPS://TIRES.EXAMPLE.ORG/W/{mark_of(tire)}"
    (page,) = pages_of(pdf)
    assert size_mm(page) == (62, 29)
    assert standard_of(pdf) == ("1", "en", True)
    assert all(typefaces_of(pdf).values())


def test_the_address_on_the_label_is_answered(as_, fitter, tire):
    (address,) = scanned(as_(fitter).get(reverse("label-pdf", args=[tire.pk])).content)

    answer = Client().get(address.removeprefix("HTTP://TESTSERVER"))

    assert "Tarn Tire Service" in answer.content.decode()


def test_the_code_has_the_clear_border_the_standard_asks_for():
    svg = drawn("HTTPS://TIRES.EXAMPLE.ORG/W/ABCDEFGHIJKLMNOP")

    side = int(re.search(r'viewBox="0 0 (\d+) \1"', svg).group(1))
    assert side == 29 + 2 * 4, "version 3, four modules on each side"
    assert "M4 4.5h7" in svg


@pytest.mark.parametrize("paper", ["label", "sheet"])
def test_the_page_and_the_pdf_say_the_same_words(as_, fitter, ticket, assessed, paper):
    client = as_(fitter)

    page = client.get(reverse("ticket-labels", args=[ticket.pk]), {"paper": paper}).content.decode()
    pdf = client.get(reverse("ticket-labels-pdf", args=[ticket.pk]), {"paper": paper}).content

    assert words_of_pdf(pdf) == words_of_html(page)
    assert len(scanned(pdf)) == 2
    drawings = [unquote(found) for found in re.findall(r'src="data:image/svg\+xml,([^"]+)"', page)]
    assert len(drawings) == 2


def test_the_label_tells_spec_date_code_and_short_code_in_groups_and_nobodys_name(as_, fitter, tire, rider):
    words = words_of_html(as_(fitter).get(reverse("label", args=[tire.pk])).content.decode())

    assert tire.label_code in words
    assert "datecode0826" in words
    assert "190/55ZR17" in words
    assert "Robin" not in words
    assert in_groups(tire.label_code) == f"{tire.label_code[:4]} {tire.label_code[4:]}"


def test_labels_on_a_sheet_begin_at_the_first_free_place(as_, fitter, ticket, assessed):
    client = as_(fitter)
    asked = {"paper": "sheet", "first": "23"}

    page = client.get(reverse("ticket-labels", args=[ticket.pk]), asked).content.decode()
    pdf = client.get(reverse("ticket-labels-pdf", args=[ticket.pk]), asked).content

    assert page.count("is-used") == 22
    (sheet,) = pages_of(pdf)
    assert size_mm(sheet) == (210, 297)
    _, bottom, _, top = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_charbox(0)
    assert 0 < bottom < top < 37 * 72 / 25.4, "in the last row"


@pytest.mark.parametrize("first", ["0", "25", "x", "-1", "1.5", ""])
def test_a_place_that_no_sheet_has_is_refused(as_, fitter, ticket, assessed, first):
    answer = as_(fitter).get(reverse("ticket-labels", args=[ticket.pk]), {"paper": "sheet", "first": first})

    assert answer.status_code == 422
    assert "the places 1 to 24" in answer.content.decode()


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("fitter", 200), ("stock_manager", 200), ("rider_person", 200), ("stranger", 404), ("tester", 404),
        ("crew", 403), ("director", 403), ("inspector", 403),
    ],
)  # fmt: skip
@pytest.mark.parametrize("route", ["label", "label-pdf"])
def test_the_owner_and_the_trailer_print_labels(request, as_, tire, entry, who, status, route):
    assert as_(request.getfixturevalue(who)).get(reverse(route, args=[tire.pk])).status_code == status


@pytest.mark.parametrize(("who", "status"), [("fitter", 200), ("stranger", 404), ("rider_person", 403)])
@pytest.mark.parametrize("route", ["ticket-labels", "ticket-labels-pdf"])
def test_a_tickets_labels_are_the_trailers(request, as_, ticket, assessed, who, status, route):
    assert as_(request.getfixturevalue(who)).get(reverse(route, args=[ticket.pk])).status_code == status


@pytest.mark.parametrize("route", ["label", "label-pdf"])
def test_nobody_gets_a_label_without_signing_in(tire, route):
    assert Client().get(reverse(route, args=[tire.pk])).url.startswith("/sign-in/")


def test_the_ticket_and_the_tire_lead_to_their_labels(as_, fitter, rider, inspector, entry, ticket, tire):
    ticket_page = as_(fitter).get(reverse("ticket", args=[ticket.pk])).content.decode()
    own_page = as_(rider.person).get(reverse("tire", args=[tire.pk])).content.decode()
    inspectors = as_(inspector).get(reverse("tire", args=[tire.pk])).content.decode()

    assert reverse("ticket-labels", args=[ticket.pk]) in ticket_page
    assert reverse("label", args=[tire.pk]) in own_page
    assert reverse("label", args=[tire.pk]) not in inspectors


def test_wheels_without_tires_have_no_label(as_, fitter, ticket):
    client = as_(fitter)

    page = client.get(reverse("ticket-labels", args=[ticket.pk]))
    pdf = client.get(reverse("ticket-labels-pdf", args=[ticket.pk]))

    assert "No tire is on these wheels yet" in page.content.decode()
    assert pdf.status_code == 404


def test_a_label_says_when_its_code_would_lead_nowhere(as_, rider, rear_spec, now, settings):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear_spec, label_code='A"b/c d')
    client = as_(rider.person)

    page = client.get(reverse("label", args=[tire.pk]), headers={"host": "127.0.0.1:8000"}).content.decode()
    pdf = client.get(reverse("label-pdf", args=[tire.pk]))
    settings.PUBLIC_ADDRESS = "https://tires.example.org"
    mended = client.get(reverse("label", args=[tire.pk]), headers={"host": "127.0.0.1:8000"}).content.decode()

    assert "an address that only this machine reaches" in page
    assert "its code leads a stranger to nobody yet" in page
    assert pdf["Content-Disposition"] == 'inline; filename="label-abc-d.pdf"'
    assert "only this machine" not in mended


@pytest.mark.parametrize("name", ["Superlongus " * 5, "X" * 60])
def test_a_line_name_of_any_length_stays_on_its_label(as_, fitter, tire, line, name):
    line.name = name.strip()
    line.save()

    pdf = as_(fitter).get(reverse("label-pdf", args=[tire.pk])).content

    assert len(pages_of(pdf)) == 1
    assert len(scanned(pdf)) == 1
    text = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    rights = [text.get_charbox(place)[2] for place in range(text.count_chars())]
    assert max(rights) < 62 * 72 / 25.4, "nothing runs off the label"


def test_a_mark_names_one_tire_however_it_is_typed(tire):
    mark = mark_of(tire)
    grouped = in_groups(mark).replace(" ", "-").lower()

    assert len(mark) == 16
    for typed in (mark, grouped, grouped.replace("-", " ")):
        low, high = ids_marked(typed)
        assert low <= tire.pk <= high


def test_digits_that_no_mark_has_are_read_as_the_letters_they_look_like():
    assert ids_marked("0180-1801-8018-0180") == ids_marked("OIBO-IBOI-BOIB-OIBO") is not None


@pytest.mark.parametrize("typed", ["", "A" * 15, "A" * 17, "A" * 24, "!!!!" * 4, "ÄÖÜß" * 4])
def test_what_is_no_mark_names_nothing(typed):
    assert ids_marked(typed) is None
