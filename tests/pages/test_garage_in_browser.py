"""The garage on two phones, for riders in four situations: each sees a page that says what to do."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.inventory.telling import tell_recalled
from fleet.life.assessments import assess
from fleet.life.models import Assessment
from fleet.pages.units import days
from fleet.running.actions import record_tread
from tests.pages.browser import check, sign_in

pytestmark = [pytest.mark.browser, pytest.mark.parametrize("width", [320, 390])]


@pytest.fixture
def garage(page, width):
    """Open the garage of somebody who signs in on a phone."""
    page.set_viewport_size({"width": width, "height": 700})

    def open_as(person):
        sign_in(page, person)
        page.goto(reverse("garage"))
        return page

    return open_as


def test_a_rider_with_no_data_begins_with_a_bike(garage, rider_person, rider):
    page = garage(rider_person)
    expect(page.get_by_text("Add your bike here")).to_be_visible()
    check(page, 48)

    page.get_by_role("link", name="Add a bike").click()

    expect(page.get_by_role("heading", name="Add a bike")).to_be_visible()
    check(page, 48)


def test_a_rider_with_one_stint_sees_what_is_left_and_what_to_change(
    garage, rider_person, stint, guidance, now
):
    assess(None, at=now)
    page = garage(rider_person)
    for newest in Assessment.objects.filter(is_newest=True):
        expect(page.get_by_text(days(newest.remaining_days_50)).first).to_be_visible()
    check(page, 48)

    page.get_by_role("link", name="Next change").click()

    expect(page.get_by_role("heading", name="After the stint")).to_be_visible()
    check(page, 48)


def test_a_rider_on_a_worn_tire_is_told_to_stop_and_gets_no_pressure_for_it(
    garage, rider_person, guidance, fitted, now
):
    record_tread(by=SERVICE, at=now, tire=fitted["rear"].tire, zone="C", taken_at=now, depth_mm=0.9)
    assess(None, at=now)

    page = garage(rider_person)

    expect(page.get_by_text("No start pressure: this tire should not go out.")).to_be_visible()
    expect(page.get_by_text("stand down").first).to_be_visible()
    check(page, 48)
    page.get_by_role("button", name="Seen").click()
    expect(page.get_by_role("button", name="Seen")).to_be_hidden()


def test_a_rider_on_a_recalled_tire_reads_what_to_do_and_says_so(
    garage, rider_person, guidance, assessed, recall, now
):
    recall()
    tell_recalled(at=now)

    page = garage(rider_person)

    expect(page.get_by_text("Bring it to your vendor: it is exchanged.").first).to_be_visible()
    expect(page.get_by_text("No start pressure: this tire should not go out.")).to_be_visible()
    check(page, 48)
    page.get_by_role("button", name="I have read this").click()
    expect(page.get_by_role("button", name="I have read this")).to_be_hidden()
    expect(page.get_by_text("Bring it to your vendor: it is exchanged.").first).to_be_visible()
