"""The stint form in a real browser on two phones: the quick task in steps, what is asked, and what else can be noted."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.running.models import Stint, TreadReading
from tests.pages.browser import check, sign_in

pytestmark = pytest.mark.browser


@pytest.fixture
def opened(page, rider_person, guidance, assessed, slot, wheel_pair):
    """The garage with one bike on its day, signed in."""
    sign_in(page, rider_person)
    expect(page.get_by_role("heading", name="Robin Vale")).to_be_visible()
    return page


@pytest.mark.parametrize("width", [320, 390])
def test_a_stint_takes_three_taps_and_two_numbers(opened, width):
    opened.set_viewport_size({"width": width, "height": 700})
    opened.goto(reverse("garage"))

    opened.get_by_role("link", name="Log a stint").click()
    expect(opened.get_by_label("Laps", exact=True)).to_have_value("10")
    opened.get_by_label("Front, hot, psi", exact=True).fill("33.5")
    opened.get_by_label("Rear, hot, psi", exact=True).fill("32")
    opened.get_by_text("Good, planted").click()
    opened.get_by_role("button", name="Store the stint").click()
    expect(opened.get_by_text("Stint stored")).to_be_visible()

    stint = Stint.objects.get()
    assert (stint.laps, stint.pressures.count(), stint.feel_notes.count()) == (10, 2, 1)
    check(opened, 48)
    opened.get_by_role("button", name="Not done").click()
    expect(opened.get_by_text("You said: not done.")).to_be_visible()
    opened.get_by_role("link", name="Rear", exact=True).click()
    expect(opened.get_by_role("heading", name="Heat cycles")).to_be_visible()
    check(opened, 48)


@pytest.mark.parametrize("width", [320, 390])
def test_a_doubt_is_asked_and_confirmed_with_one_tick(another, rider_person, guidance, assessed, slot, width):
    # The browser itself writes on its console that a form was answered with 422.
    page = another(viewport={"width": width, "height": 700})
    sign_in(page, rider_person)
    page.get_by_role("link", name="Log a stint").click()
    page.get_by_label("Rear, hot, psi", exact=True).fill("21")
    page.get_by_role("button", name="Store the stint").click()
    expect(page.get_by_text("Not stored yet: is this right?")).to_be_visible()
    check(page, 48)

    page.get_by_label("It is right as it is").check()
    page.get_by_role("button", name="Store the stint").click()

    expect(page.get_by_role("heading", name="After the stint")).to_be_visible()
    expect(page.get_by_text("Stint stored")).to_be_visible()
    assert Stint.objects.count() == 1


def test_everything_that_can_be_noted_fits_a_phone(opened):
    opened.get_by_role("link", name="Log a stint").click()
    expect(opened.get_by_role("heading", name="Log a stint")).to_be_visible()
    for summary in opened.locator("main summary").all():
        summary.click()
    expect(opened.get_by_label("Lap times", exact=True)).to_be_visible()
    check(opened, 48)

    opened.get_by_label("Lap times", exact=True).fill("Lap,Lap time\n1,2:02.3\n2,2:01.9")
    opened.get_by_role("group", name="Rear tread depth, mm").get_by_label("C, Rear centre").fill("5.2")
    opened.get_by_role("button", name="Store the stint").click()

    expect(opened.get_by_text("2 lap times, the best 2:01.9.")).to_be_visible()
    assert TreadReading.objects.get().depth_mm == 5.2


def test_what_another_page_sends_for_a_form_is_still_said_on_the_page_that_follows(
    another, rider_person, guidance, assessed, slot
):
    page = another(viewport={"width": 390, "height": 700})
    sign_in(page, rider_person)
    other = page.context.new_page()
    other.goto(reverse("garage"))
    # The other page's round stands before the form's own in the queue of senders, and takes the entry along.
    other.evaluate(
        "() => { navigator.locks.request('outbox', () => new Promise((free) => { window.free = free; })); Sender.run(); }"
    )
    page.get_by_role("link", name="Log a stint").click()
    expect(page.get_by_role("heading", name="Log a stint")).to_be_visible()
    page.get_by_role("button", name="Store the stint").click()
    expect(page.locator("[data-says=going]").first).to_be_visible()

    other.evaluate("() => window.free()")

    expect(page.get_by_role("heading", name="After the stint")).to_be_visible()
    expect(page.get_by_text("Stint stored")).to_be_visible()
