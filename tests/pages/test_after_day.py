"""The day looked back on: the page for the organiser, and the report on paper that names nobody."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.life.assessments import assess
from fleet.life.models import Assessment, Flag
from tests.pages.printing.reading import closed_up, pages_of, size_mm, standard_of, words_of_pdf


@pytest.fixture
def ended(bulletin, fitted, stint, now):
    """Robin's rear was given 40 % to last the day, and did not."""
    assess(None, at=now)
    yesterday = now - timedelta(days=1)
    Assessment.objects.update(assessed_on=yesterday.date(), assessed_at=yesterday, chance_next_day=0.4)
    return Flag.objects.create(
        tire=fitted["rear"].tire, state="stand down", binding_limit="tread", raised_at=now
    )


def test_the_page_tells_who_did_not_last_with_the_chance_that_was_given(as_, crew, ended, day):
    page = re.sub(r"\s+", " ", as_(crew).get(reverse("after-day", args=[day.pk])).content.decode())

    assert "27 Robin Vale" in page
    assert "it was given 40 % to last" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "Given under 50 %: 2 tires, 1 lasted; 0.8 were to last by their chances." in page.replace(
        "\N{NO-BREAK SPACE}", " "
    )


@pytest.mark.parametrize(("paper", "size"), [("a4", (297, 210)), ("letter", (279, 216))])
def test_the_report_on_paper_says_the_same_figures_and_names_nobody(
    as_, crew, ended, day, rear_spec, paper, size
):
    answer = as_(crew).get(reverse("after-day-pdf", args=[day.pk]), {"paper": paper})

    words = words_of_pdf(answer.content)
    assert closed_up("Given under 50 %: 2 tires, 1 lasted") in words
    assert closed_up(f"{rear_spec} rear 1 1 1") in words
    assert "Robin" not in words
    assert size_mm(pages_of(answer.content)[0]) == size
    assert standard_of(answer.content) == ("1", "en", True)


def test_a_day_that_is_not_over_says_so(as_, crew, day, event, layout):
    before = event.days.create(date=day.date - timedelta(days=9), layout=layout)

    pages = [as_(crew).get(reverse("after-day", args=[one.pk])).content.decode() for one in (day, before)]

    assert ["the day is not over yet" in page for page in pages] == [True, False]


def test_a_day_nobody_knows_anything_of_prints_too(as_, crew, day):
    words = words_of_pdf(as_(crew).get(reverse("after-day-pdf", args=[day.pk])).content)

    assert closed_up("it is not known on what people rode") in words


def test_after_thirty_days_an_entry_opens_nothing_more(as_, crew, ended, day, monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(days=40))

    page = as_(crew).get(reverse("after-day", args=[day.pk])).content.decode()

    assert "Robin" not in page
    assert "No entrant's tire came to its end" in page


def test_an_unknown_paper_is_refused(as_, crew, day):
    answer = as_(crew).get(reverse("after-day-pdf", args=[day.pk]), {"paper": "napkin"})

    assert answer.status_code == 422
