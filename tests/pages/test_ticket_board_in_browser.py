"""The board on two tablets at once: what one does the other shows, with no reload, no flicker, and with the network gone."""

from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import take_wheels_in
from fleet.inventory.models import JobTicket
from tests.pages.browser import check, sign_in

pytestmark = pytest.mark.browser
TABLET = {"width": 1024, "height": 700}
PUT_ON = "Put on the machine"


@pytest.fixture
def tablet(chromium, server):
    """Open a tablet of its own, in which somebody is signed in."""

    @contextmanager
    def open_for(person, **options):
        context = chromium.new_context(base_url=server.url, viewport=TABLET, **options)
        page = context.new_page()
        try:
            sign_in(page, person)
            yield page
        finally:
            context.close()

    return open_for


@pytest.fixture
def tickets(tarn, now):
    """Eight walk-ins' wheels at the trailer, promised in the order of their numbers."""
    found = []
    for number in range(1, 9):
        code = f"w-{number}"
        rider = register_rider(by=SERVICE, code=code, name=f"Walker {number}", registered_with=tarn)
        bike = add_bike(by=SERVICE, rider=rider, code=code, description="600 sport")
        pair = add_wheel_pair(by=SERVICE, bike=bike, code=code, name="dry")
        found.append(
            take_wheels_in(
                by=SERVICE,
                at=now,
                vendor=tarn,
                wheel_pair=pair,
                opened_on=now.date(),
                promised_at=now + timedelta(hours=number),
                wishes=[{"axle": "rear"}],
            )
        )
    return found


def row(page, ticket):
    return page.locator(f"#job-{ticket.pk}")


def test_what_one_tablet_does_the_other_shows_by_itself(tablet, tickets, fitter, stock_manager):
    ticket, other = tickets[0], tickets[6]
    with tablet(fitter) as first, tablet(stock_manager) as second:
        second.goto(reverse("trailer"))
        second.evaluate("window.isTheSamePage = true")
        focused = second.locator(f"#see-{other.pk}")
        focused.focus()
        scrolled = second.evaluate("window.scrollY")
        first.goto(reverse("trailer"))
        row(first, tickets[0]).get_by_role("button", name=PUT_ON).click()
        expect(first.get_by_text("Ticket 1, Walker 1: on the machine.")).to_be_visible()

        expect(row(second, ticket)).to_contain_text("On the machine")
        expect(row(second, ticket).get_by_role("button", name="Wheels are ready")).to_be_visible()

        assert second.evaluate("window.isTheSamePage")
        expect(focused).to_be_focused()
        assert scrolled > 0
        assert second.evaluate("window.scrollY") == scrolled

        row(second, ticket).get_by_role("button", name="Wheels are ready").click()
        expect(second.get_by_text("Ticket 1, Walker 1: ready.")).to_be_visible()
        expect(row(first, ticket).get_by_role("button", name="Rider collected them")).to_be_visible()
    assert JobTicket.objects.get(pk=ticket.pk).state == "ready"


def test_the_side_screen_calls_a_number_by_itself(tablet, tickets, fitter):
    with tablet(fitter) as screen, tablet(fitter) as hand:
        screen.goto(reverse("ticket-board"))
        expect(screen.locator(".numbers.is-ready")).to_have_count(0)

        hand.goto(reverse("ticket", args=[tickets[4].pk]))
        hand.get_by_text("Put it in another state").click()
        hand.get_by_role("button", name="Ready", exact=True).click()
        expect(hand.get_by_text("Ticket 5, Walker 5: ready.")).to_be_visible()

        expect(screen.locator(".numbers.is-ready")).to_have_text("5")


def test_a_board_whose_network_is_gone_says_since_when_and_recovers(tablet, tickets, fitter):
    with tablet(fitter) as page:
        page.goto(reverse("trailer"))
        says = page.locator("[data-poll-says]")
        expect(says).to_be_empty()

        page.context.set_offline(True)
        expect(says).to_contain_text("Not updated since")
        expect(says).to_contain_text("the network is away")
        expect(row(page, tickets[0])).to_be_visible()

        page.context.set_offline(False)
        expect(says).to_be_empty()


def test_a_board_that_was_signed_out_says_so_and_keeps_what_it_shows(tablet, tickets, fitter):
    with tablet(fitter) as page:
        page.goto(reverse("trailer"))
        expect(row(page, tickets[0])).to_be_visible()

        page.context.clear_cookies()

        expect(page.locator("[data-poll-says]")).to_contain_text("load the page again and sign in")
        expect(row(page, tickets[0])).to_be_visible()


def test_the_board_works_without_script(tablet, tickets, fitter):
    with tablet(fitter, java_script_enabled=False) as page:
        page.goto(reverse("trailer"))
        row(page, tickets[0]).get_by_role("button", name=PUT_ON).click()

        expect(page.get_by_text("Ticket 1, Walker 1: on the machine.")).to_be_visible()


def test_a_button_that_came_with_an_update_is_taken_too(tablet, tickets, fitter, stock_manager):
    ticket = tickets[0]
    with tablet(fitter) as page, tablet(stock_manager) as other:
        page.goto(reverse("trailer"))
        other.goto(reverse("trailer"))
        row(other, tickets[0]).get_by_role("button", name=PUT_ON).click()
        ready = row(page, ticket).get_by_role("button", name="Wheels are ready")
        expect(ready).to_be_visible()

        ready.click()

        expect(page.get_by_text("Ticket 1, Walker 1: ready.")).to_be_visible()


def test_the_same_wheels_again_are_taken_in_with_three_taps_and_a_typed_number(
    page, fitter, entry, slot, assessed, rear_lot, front_lot
):
    sign_in(page, fitter)
    taps = []

    def tap(found):
        found.click()
        taps.append(found)

    page.get_by_label("Rider's number, name or code").fill("27")
    tap(page.get_by_role("button", name="Take wheels in"))
    expect(page.get_by_text("Number 27 today")).to_be_visible()
    tap(page.get_by_role("link", name="Take these wheels in"))
    expect(page.get_by_label("Goes on the rear wheel")).to_be_visible()
    check(page, 64)
    page.get_by_text("Front", exact=True).first.click()
    expect(page.get_by_label("Goes on the rear wheel")).to_be_hidden()
    page.get_by_text("Both", exact=True).click()
    expect(page.get_by_label("Goes on the rear wheel")).to_be_visible()
    tap(page.get_by_role("button", name="Take these wheels in"))

    expect(page.get_by_text("Ticket 1 is open: tell Robin Vale the number.")).to_be_visible()
    check(page, 64)
    ticket = JobTicket.objects.get()
    assert len(taps) == 3
    assert ticket.axles == ["front", "rear"]
    assert ticket.promised_at is not None
