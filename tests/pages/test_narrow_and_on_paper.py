"""Garage, trailer and trials on the narrowest phone and on paper: nothing sideways, nothing to tap on paper."""

from datetime import timedelta

import numpy as np
import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import take_wheels_in
from fleet.running.actions import record_tread
from fleet.trials.actions import AxleLengths, measure
from tests.pages.browser import check, sign_in
from tests.pages.trials.conftest import (  # noqa: F401 -- fixtures
    alder,
    candidate,
    chassis,
    measured,
    plan,
    ride,
    runs,
    second_pair,
    shared,
    trial,
)

pytestmark = pytest.mark.browser
PHONE = {"width": 320, "height": 700}
ZONES = ("L2", "L1", "C", "R1", "R2")
ACROSS_MM = tuple(np.linspace(-60.0, 60.0, 13).tolist())


@pytest.fixture
def worn(fitted, stint, now):
    """The rear tire, read across all five zones twice, the second time after a stint."""
    for minutes, depth_mm in ((200, 5.5), (1, 4.6)):
        for zone in ZONES:
            record_tread(
                by=SERVICE,
                at=now,
                tire=fitted["rear"].tire,
                zone=zone,
                taken_at=now - timedelta(minutes=minutes),
                depth_mm=depth_mm,
            )
    return fitted["rear"].tire


@pytest.fixture
def tested(measured, runs, candidate, tester, now):  # noqa: F811 -- fixtures
    """The test of the trials' cast with everything its pages can show."""
    for side, radius_mm in (("baseline", 95.0), ("candidate", 80.0)):
        heights = tuple((np.sqrt(radius_mm**2 - np.square(ACROSS_MM)) - radius_mm).tolist())
        measure(
            by=tester,
            at=now,
            test=measured,
            side=side,
            taken_at=now - timedelta(minutes=5),
            measured={axle: AxleLengths(x_mm=ACROSS_MM, z_mm=heights) for axle in ("front", "rear")},
        )
    for fitting in candidate.values():
        for hours, share in ((3, 0.98), (0, 0.85)):
            for zone in ZONES:
                record_tread(
                    by=SERVICE,
                    at=now,
                    tire=fitting.tire,
                    zone=zone,
                    taken_at=now - timedelta(hours=hours),
                    depth_mm=share * 5.5,
                )
    return measured


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    """Robin's wheels, handed in at Tarn's trailer."""
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


def sideways(page):
    """Return the tables that can only be read by pushing them about."""
    return page.evaluate(
        """() => [...document.querySelectorAll(".wide")]
            .filter(one => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1)
            .map(one => one.getAttribute("aria-label"))"""
    )


def low_ways(page):
    """Return the links standing alone in a line that a finger in a glove would miss."""
    return page.evaluate(
        """() => [...document.querySelectorAll("main .ways-on a, main a.is-way, main .way-back a")]
            .filter(one => one.checkVisibility() && one.getBoundingClientRect().height < 44)
            .map(one => one.innerText)"""
    )


def tapped_on_paper(page):
    """Return what is printed though it is only there to be tapped or to be unfolded."""
    page.emulate_media(media="print")
    return page.evaluate(
        """() => [...document.querySelectorAll(
            "button, a.button, summary, nav, .way-back, .ways-on, .finder, .foot, input[type=file]"
        )].filter(one => one.checkVisibility()).map(one => one.outerHTML.slice(0, 120))"""
    )


def test_a_tires_readings_are_read_without_pushing_the_table(page, rider_person, worn):
    page.set_viewport_size(PHONE)
    sign_in(page, rider_person)

    page.goto(reverse("tire", args=[worn.pk]))

    expect(page.get_by_role("region", name="Tread readings")).to_contain_text("Right shoulder")
    assert (sideways(page), low_ways(page)) == ([], [])
    shoulders = page.locator("td[data-is='Left shoulder']")
    assert [cell.inner_text() for cell in shoulders.all()] == [
        "5.5\N{NO-BREAK SPACE}mm",
        "4.6\N{NO-BREAK SPACE}mm",
    ]
    check(page, 48)


@pytest.mark.parametrize(
    "name", ["tire-test", "stance", "test-runs", "judge", "test-report", "start-pressures"]
)
def test_the_pages_of_a_test_are_read_on_the_narrowest_phone(page, tester, tested, name):
    page.set_viewport_size(PHONE)
    sign_in(page, tester)

    page.goto(reverse(name, args=[tested.pk]))

    assert (sideways(page), low_ways(page)) == ([], [])
    check(page, 48)


@pytest.mark.parametrize("name", ["trials", "specs-compared"])
def test_the_lists_of_tests_are_read_on_the_narrowest_phone(page, tester, tested, name):
    page.set_viewport_size(PHONE)
    sign_in(page, tester)

    page.goto(reverse(name))

    assert (sideways(page), low_ways(page)) == ([], [])


@pytest.mark.parametrize(
    "name", ["garage", "sharing", "gauge", "ride-at", "reserve", "spare-tires", "history", "calendar"]
)
def test_a_print_of_the_garage_says_whose_and_as_of_when_and_has_nothing_to_tap(
    page, rider_person, worn, name
):
    sign_in(page, rider_person)

    page.goto(reverse(name))

    assert tapped_on_paper(page) == []
    expect(page.locator(".made-for")).to_contain_text(f"for {rider_person.name}, as of")
    expect(page.locator(".made-for")).to_be_visible()


def test_what_was_written_stands_on_a_printed_history(page, rider_person, worn):
    sign_in(page, rider_person)

    page.goto(reverse("history") + f"?about={worn.pk}")
    expect(page.get_by_text("4.6\N{NO-BREAK SPACE}mm").first).to_be_hidden()
    page.emulate_media(media="print")

    expect(page.get_by_text("4.6\N{NO-BREAK SPACE}mm").first).to_be_visible()


@pytest.mark.parametrize("name", ["trailer", "expected", "reservations", "stock"])
def test_a_print_of_the_trailer_has_nothing_to_tap(page, fitter, ticket, worn, name):
    sign_in(page, fitter)

    page.goto(reverse(name))

    assert tapped_on_paper(page) == []
    expect(page.locator(".made-for")).to_contain_text(f"for {fitter.name}, as of")


@pytest.mark.parametrize(
    "name", ["tire-test", "stance", "test-runs", "judge", "test-report", "start-pressures"]
)
def test_a_print_of_a_test_has_nothing_to_tap(page, tester, tested, name):
    sign_in(page, tester)

    page.goto(reverse(name, args=[tested.pk]))

    assert tapped_on_paper(page) == []
    expect(page.locator(".made-for")).to_be_visible()


def test_on_the_screen_and_on_a_slip_nobody_reads_for_whom_it_was_made(page, fitter, ticket):
    sign_in(page, fitter)
    page.goto(reverse("trailer"))
    expect(page.locator(".made-for")).to_be_hidden()

    page.goto(reverse("slip", args=[ticket.pk]))
    page.emulate_media(media="print")

    expect(page.locator(".made-for")).to_be_hidden()


def test_what_a_narrow_list_cuts_off_is_said_under_it_and_on_a_desk_nothing_is(
    page, rider_person, wheel_pair, rear_spec
):
    sign_in(page, rider_person)
    page.set_viewport_size(PHONE)
    page.goto(reverse("own-tire", args=[wheel_pair.pk]))
    said = page.locator("#id_spec + .chosen")
    expect(said).to_be_hidden()

    page.get_by_label("Tire").select_option(label=f"{rear_spec}, rear")
    expect(said).to_have_text(f"{rear_spec}, rear")
    check(page, 48)
    page.set_viewport_size({"width": 1280, "height": 800})

    expect(said).to_be_hidden()
