"""What the desk prints: whose it is and when, the times themselves, and nothing to press."""

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.life.models import Assessment
from tests.pages.browser import sign_in

pytestmark = pytest.mark.browser
SMALL = """[...document.querySelectorAll("main table a, .note.is-refusal li a")].filter(one => {
    const { width, height } = one.getBoundingClientRect();
    return one.checkVisibility() && (width < 44 || height < 44);
}).map(one => one.outerHTML)"""
SIDEWAYS = """[...document.querySelectorAll(".wide:not([aria-label^='Start pressures'])")]
    .filter(one => one.scrollWidth > one.clientWidth).map(one => one.ariaLabel)"""


def printed(page, address):
    page.goto(address)
    page.emulate_media(media="print")
    return page


@pytest.mark.parametrize("name", ["roster", "gate-list", "timetable", "gate"])
def test_a_print_says_whose_it_is_and_when_and_carries_nothing_to_press(
    page, director, day, slot, entry, assessed, name
):
    sign_in(page, director)

    paper = printed(page, reverse(name, args=[day.pk]))

    words = paper.locator("body").inner_text()
    assert str(day.event) in words
    assert f"{day.date:%Y}" in words
    assert paper.locator("button:visible, textarea:visible, summary:visible, .button:visible").count() == 0
    assert "Mend" not in words


def test_the_times_on_paper_are_the_ones_that_are_set(page, director, day, slot):
    sign_in(page, director)
    page.goto(reverse("timetable", args=[day.pk]))
    on_screen = page.locator("table.print-only").is_visible()

    page.emulate_media(media="print")

    assert not on_screen
    assert "Fast" in page.locator("table.print-only").inner_text()


@pytest.mark.parametrize("width", [320, 768])
def test_numbers_in_lists_are_large_enough_for_a_glove_and_no_list_moves_sideways(
    page, director, day, slot, entry, assessed, guidance, conditions, now, width
):
    record_conditions(
        by=SERVICE, at=now, day=day, holds_at=now, standing="forecast", source="a service", air_c=21.0
    )
    day.event.groups.update(name="Intermediate")
    Assessment.objects.update(state="plan a change", binding_limit="heat cycles")
    sign_in(page, director)
    page.set_viewport_size({"width": width, "height": 800})

    for name in ("roster", "gate-list", "after-day", "day"):
        page.goto(reverse(name, args=[day.pk]))
        page.locator("details:has(.unfolds) > summary").evaluate_all("all => all.forEach(one => one.click())")
        found = page.evaluate(SMALL)
        assert [one for one in found if "/lines/" not in one] == []
        assert page.evaluate(SIDEWAYS) == []
