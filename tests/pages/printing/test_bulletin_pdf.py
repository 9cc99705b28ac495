"""The bulletin for the wall: what the page says, on one A4 or letter page, for anybody, and nothing once withdrawn."""

from dataclasses import asdict

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.pages.boards import board_of
from fleet.pages.printing.bulletin import notice_of, pdf_of_notice
from fleet.pressures.actions import withdraw_bulletin
from tests.pages.printing.reading import closed_up, pages_of, size_mm, standard_of, typefaces_of, words_of_pdf


def every_word(found):
    """The words of a sheet one after another."""
    if isinstance(found, dict):
        return [word for value in found.values() for word in every_word(value)]
    if isinstance(found, list):
        return [word for value in found for word in every_word(value)]
    return [found] if found else []


@pytest.fixture
def notice(bulletin):
    return notice_of(bulletin, board_of(bulletin.content))


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (216, 279))])
def test_anybody_gets_one_tagged_page_with_its_typeface_inside(day, bulletin, paper, size):
    answer = Client().get(reverse("bulletin-pdf", args=[day.public_code]), {"paper": paper})

    assert answer["Content-Type"] == "application/pdf"
    (page,) = pages_of(answer.content)
    assert size_mm(page) == size
    assert standard_of(answer.content) == ("1", "en", True)
    assert all(typefaces_of(answer.content).values())


def test_page_and_pdf_say_every_word_of_the_bulletin(day, notice):
    page = closed_up(Client().get(reverse("bulletin", args=[day.public_code])).content.decode())
    pdf = words_of_pdf(Client().get(reverse("bulletin-pdf", args=[day.public_code])).content)

    words = [closed_up(word) for word in every_word({**asdict(notice), "title": ""})]
    assert len(words) > 20
    for word in words:
        assert word in page.replace("&#x27;", "'"), word
        assert word in pdf, word
    for word in sorted(words, key=len, reverse=True):
        pdf = pdf.replace(word, "", 1)
    assert set(pdf) <= set("·\N{EN DASH}"), "the sheet says nothing of its own"


def test_the_pdf_names_no_rider_and_nobody_of_the_crew(day, bulletin, rider, director):
    pdf = words_of_pdf(Client().get(reverse("bulletin-pdf", args=[day.public_code])).content)

    assert closed_up(rider.name) not in pdf
    assert closed_up(director.name) not in pdf


def test_a_bulletin_that_does_not_hold_is_not_printed(day, bulletin, now):
    withdraw_bulletin(by=SERVICE, at=now, bulletin=bulletin, reason="the thermometer stood in the sun")

    answer = Client().get(reverse("bulletin-pdf", args=[day.public_code]))

    assert answer.status_code == 404
    assert "No bulletin is in force for this day now" in answer.content.decode()


@pytest.mark.parametrize(("code", "paper", "status"), [("guessed", "a4", 404), (None, "a5", 422)])
def test_a_guessed_address_and_an_unknown_paper_are_refused(day, bulletin, code, paper, status):
    answer = Client().get(reverse("bulletin-pdf", args=[code or day.public_code]), {"paper": paper})

    assert answer.status_code == status


def test_the_bulletin_links_both_papers(day, bulletin):
    page = Client().get(reverse("bulletin", args=[day.public_code])).content.decode()

    address = reverse("bulletin-pdf", args=[day.public_code])
    assert f'href="{address}?paper=a4"' in page
    assert f'href="{address}?paper=letter"' in page


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_twenty_tires_and_five_groups_stay_on_one_page(bulletin, paper):
    known = bulletin.content["lines"][0]
    lines = [
        known
        | {"spec": f"s-{tire}", "line": f"Lowmoor {tire // 4}", "group": f"Group {group}", "readings": 0}
        for tire in range(20)
        for group in range(5)
    ]
    bulletin.content = {**bulletin.content, "lines": lines}

    pdf = pdf_of_notice(notice_of(bulletin, board_of(bulletin.content)), paper=paper, name="b").content

    assert len(pages_of(pdf)) == 1
    assert "*" in words_of_pdf(pdf)


def test_more_tires_than_a_page_holds_go_on_to_the_next_under_the_same_heads(bulletin):
    known = bulletin.content["lines"][0]
    lines = [known | {"spec": f"s-{tire}", "line": f"Lowmoor {tire}"} for tire in range(60)]
    bulletin.content = {**bulletin.content, "lines": lines}

    pdf = pdf_of_notice(notice_of(bulletin, board_of(bulletin.content)), paper="a4", name="b").content

    assert len(pages_of(pdf)) > 1
    assert all("Hot target" in page.extract_text() for page in pages_of(pdf))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("tires", [12, 20])
def test_twelve_hours_that_all_differ_stay_on_one_page_across_it_where_they_are_few(bulletin, paper, tires):
    known, (whole,) = bulletin.content["lines"][0], bulletin.content["parts"]
    parts = [
        whole | {"name": f"{hour:02d}:00", "starts_at": f"2026-06-12T{hour:02d}:00:00+01:00", "ends_at": f"2026-06-12T{hour + 1:02d}:00:00+01:00"}
        for hour in range(7, 19)
    ]  # fmt: skip
    lines = [
        known | {"spec": f"s-{tire}", "line": f"Lowmoor {tire // 4}", "part": part["name"], "shown_kpa": 180.0 + 4 * place}
        for tire in range(tires)
        for place, part in enumerate(parts)
    ]  # fmt: skip
    bulletin.content = {**bulletin.content, "lines": lines, "parts": parts}

    pdf = pdf_of_notice(notice_of(bulletin, board_of(bulletin.content)), paper=paper, name="b").content

    (page,) = pages_of(pdf)
    assert (page.mediabox.width > page.mediabox.height) == (tires < 15)
    assert all(part["name"] in page.extract_text() for part in parts)
