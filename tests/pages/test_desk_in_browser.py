"""The desk's own pages in a real browser: set-up, roster, gate list; narrow, quick, and open to everybody."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.events.models import Entry
from fleet.exchange.rosters import keep_roster
from fleet.garage.actions import register_rider
from fleet.inventory.inspection import Inspection
from fleet.pressures.actions import withdraw_bulletin
from tests.pages.browser import check, found_by_axe, sign_in

pytestmark = pytest.mark.browser
WIDTHS = (320, 768, 1280)


@pytest.fixture
def addresses(bulletin, assessed, slot, day, entry, director, longfield, now):
    register_rider(by=director, code="r-wil", name="Wil Stroud", registered_with=longfield)
    rows = b"number,name,group,bike\n7,Will Stroud,Fast,600 sport\n8,Ann Ash,Fats,300 single\n9,Bo Elm,Fast,300 single\n"
    upload = keep_roster(by=director, at=now, day=day, name="roster.csv", data=rows)
    return [
        reverse("plan-event"),
        reverse("event", args=[day.event_id]),
        reverse("timetable", args=[day.pk]),
        reverse("forecast", args=[day.pk]),
        reverse("bulletin-history", args=[day.pk]),
        reverse("gate-list", args=[day.pk]),
        reverse("after-day", args=[day.pk]),
        reverse("roster", args=[day.pk]),
        reverse("walk-in", args=[day.pk]),
        reverse("entry", args=[day.pk, entry.pk]),
        reverse("send-roster", args=[day.pk]),
        reverse("roster-list", args=[day.pk, upload.pk]),
        reverse("day", args=[day.pk]),
    ]


@pytest.mark.parametrize("width", WIDTHS)
def test_every_page_of_the_set_up_fits_every_width_and_axe_finds_nothing(page, director, addresses, width):
    sign_in(page, director)
    page.set_viewport_size({"width": width, "height": 900})

    for address in addresses:
        page.goto(address)
        check(page, 48)


def test_times_are_typed_looked_at_and_set_on_a_phone(page, director, day, group):
    sign_in(page, director)
    page.goto(reverse("timetable", args=[day.pk]))

    page.get_by_label("Times on track").first.fill("9:00-10:00, 20 min each: Fast")
    page.get_by_role("button", name="Look at it first").click()
    expect(page.get_by_role("button", name="Set 3 times on track")).to_be_visible()
    check(page, 48)
    page.get_by_role("button", name="Set 3 times on track").click()
    expect(page.get_by_text("The times on track are set")).to_be_visible()


def test_a_walk_in_is_entered_with_three_taps_and_three_words_on_a_phone(page, director, day, group):
    sign_in(page, director)
    page.goto(reverse("roster", args=[day.pk]))

    page.get_by_role("link", name="Enter a walk-in").click()
    page.get_by_label("Name", exact=True).fill("Wil Stroud")
    page.get_by_label("Number on the bike").fill("31")
    page.get_by_label("Bike", exact=True).fill("600 sport")
    page.get_by_text("Fast", exact=True).click()
    page.get_by_role("button", name="Enter the rider").click()
    expect(page.get_by_text("Wil Stroud rides with number 31 in Fast.")).to_be_visible()

    assert Entry.objects.get().number == "31"


def test_a_roster_that_is_being_taken_says_so_and_is_pressed_once(page, director, day, group, now):
    rows = b"number,name,group,bike\n8,Ann Ash,Fast,300 single\n"
    upload = keep_roster(by=director, at=now, day=day, name="roster.csv", data=rows)
    sign_in(page, director)
    page.goto(reverse("roster-list", args=[day.pk, upload.pk]))
    # An answer without content leaves the page as it is, as while a long one is waited for.
    page.route("**/roster/list/**", lambda route: route.fulfill(status=204))

    page.get_by_role("button", name="Take the roster of 1").click()

    expect(page.get_by_role("button", name="Taking the roster of 1, a moment")).to_be_disabled()


def test_the_gate_takes_a_number_and_one_tap_and_is_ready_for_the_next(page, inspector, day, entry, assessed):
    sign_in(page, inspector)
    page.goto(reverse("gate", args=[day.pk]))

    page.keyboard.type("27")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Both pass").click()
    expect(page.get_by_text("27 Robin Vale, front and rear: pass is recorded.")).to_be_visible()
    check(page, 48)
    page.keyboard.type("99")
    page.keyboard.press("Enter")

    expect(page.get_by_text("Nobody rides with the number 99")).to_be_visible()
    assert Inspection.objects.count() == 2


def test_the_board_changes_by_itself_and_says_how_old_it_is(another, bulletin, day, now):
    page = another()
    page.clock.install()
    page.goto(reverse("board", args=[day.public_code]))
    expect(page.get_by_role("heading", name="Bulletin 1")).to_be_visible()
    page.evaluate("document.body.dataset.mark = 'not loaded again'")

    page.context.set_offline(True)
    page.clock.run_for(60_000)
    expect(page.locator("[data-board-age]")).to_be_hidden()
    page.clock.run_for(120_000)
    expect(page.locator("[data-board-age]")).to_contain_text("No network for")
    assert found_by_axe(page) == []
    page.context.set_offline(False)
    withdraw_bulletin(by=SERVICE, at=now, bulletin=bulletin, reason="the thermometer stood in the sun")
    page.clock.run_for(31_000)

    expect(page.get_by_role("heading", name="No bulletin in force")).to_be_visible()
    expect(page.locator("[data-board-age]")).to_be_hidden()
    assert page.evaluate("document.body.dataset.mark") == "not loaded again"


def test_the_calendar_page_fits_a_phone_and_axe_finds_nothing(page, rider, entry):
    sign_in(page, rider.person)
    page.goto(reverse("calendar"))
    check(page, 48)

    page.get_by_role("button", name="Make the address").click()
    expect(page.get_by_label("Address, shown only now")).to_be_visible()
    check(page, 48)


def test_from_a_metar_to_the_issued_bulletin_takes_five_taps(page, director, day, entry, fitted, slot, now):
    """From the day's page on; the report is pasted, the draft looked at, and the bulletin read at its public address."""
    sign_in(page, director)
    # A person's own taps, not those of scripts; the one on the field that is pasted into counts too.
    page.add_init_script(
        "addEventListener('click', one => { if (one.isTrusted && one.detail) sessionStorage.taps = Number(sessionStorage.taps || 0) + 1 }, true)"
    )
    page.goto(reverse("day", args=[day.pk]))
    page.evaluate("sessionStorage.removeItem('taps')")

    page.get_by_role("link", name="Enter the weather").click()
    page.get_by_label("METAR").click()
    page.keyboard.insert_text(f"METAR XXXX {now:%d%H%M}Z 24008KT CAVOK 22/12 Q1016")
    page.get_by_role("button", name="Store the report").click()
    page.get_by_role("button", name="Compute the draft").click()
    expect(page.get_by_role("region", name="Start pressures, Fast")).to_be_visible()
    check(page, 48)
    page.get_by_role("button", name="Issue bulletin 1").click()
    expect(page.get_by_text("Bulletin 1 is issued.")).to_be_visible()

    assert page.evaluate("sessionStorage.taps") == "5"
    check(page, 48)
    page.goto(reverse("bulletin", args=[day.public_code]))
    expect(page.get_by_text("Bulletin 1", exact=True).first).to_be_visible()
    check(page, 24)
