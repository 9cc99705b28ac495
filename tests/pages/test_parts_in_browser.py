"""Parts of the day in a real browser: on the desk, on a phone in the paddock, on the big screen."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.pressures.actions import draft_day, issue_bulletin
from tests.pages.browser import check, sign_in

pytestmark = pytest.mark.browser
WIDTHS = (320, 768, 1280)


@pytest.fixture
def guidance(by_part):
    return by_part


@pytest.fixture
def changed(guidance, day, now, at_three):
    """A bulletin in force, and a newer draft since the forecast got cooler."""
    issue_bulletin(by=SERVICE, at=now, day=day)
    record_conditions(
        by=SERVICE, at=now, day=day, holds_at=at_three, standing="forecast", source="newer", air_c=27.0, track_surface_c=40.0
    )  # fmt: skip
    day.refresh_from_db()
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.mark.parametrize("width", WIDTHS)
def test_draft_and_bulletin_by_part_fit_every_width_and_axe_finds_nothing(
    page, director, changed, day, width
):
    sign_in(page, director)
    page.set_viewport_size({"width": width, "height": 900})

    for address in (reverse("day", args=[day.pk]), reverse("bulletin", args=[day.public_code])):
        page.goto(address)
        check(page, 48)


@pytest.mark.parametrize("width", WIDTHS)
def test_the_garage_with_what_comes_later_fits_every_width(page, rider_person, changed, width):
    sign_in(page, rider_person)
    page.set_viewport_size({"width": width, "height": 900})

    page.goto(reverse("garage"))

    expect(page.get_by_text("Later:").first).to_be_visible()
    check(page, 48)


def test_the_crew_asks_for_every_hour_with_one_tap_and_for_the_three_parts_with_another(
    page, crew, changed, day
):
    sign_in(page, crew)
    page.goto(reverse("day", args=[day.pk]))

    page.get_by_role("button", name="By the hour instead").click()
    expect(page.get_by_role("columnheader", name="15:00")).to_be_visible()
    page.get_by_role("button", name="By morning, midday, afternoon instead").click()
    expect(page.get_by_role("columnheader", name="Afternoon").first).to_be_visible()


def test_a_figure_of_the_table_is_tapped_and_set_by_hand_for_every_part(page, director, changed, day):
    sign_in(page, director)
    page.goto(reverse("day", args=[day.pk]))

    page.get_by_role("link", name="Set by hand").last.click()
    page.get_by_role("textbox", name="Set instead").fill("30")
    page.get_by_label("Why").fill("as the maker's people said")
    page.get_by_label("In every part of the day").check()
    check(page, 48)
    page.get_by_role("button", name="Set it by hand").click()

    expect(page.get_by_text("by hand", exact=True)).to_have_count(2)
