"""A rear tire at the trailer, from the rider found to the slip, in few taps and one typed number."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_spec
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import receive_lot, take_wheels_in
from fleet.inventory.queries import fitted_now
from fleet.running.models import PressureReading
from tests.pages.browser import check, sign_in

pytestmark = pytest.mark.browser

MOST_TAPS = 12
TAPS = """addEventListener("pointerdown", (event) => {
    if (event.isTrusted) sessionStorage.taps = Number(sessionStorage.taps || 0) + 1;
}, true);"""


@pytest.fixture
def tablet(page):
    page.set_viewport_size({"width": 768, "height": 1024})
    page.add_init_script(TAPS)
    return page


@pytest.fixture
def gauge(tarn, now):
    return add_instrument(
        by=SERVICE, organisation=tarn, code="tg", name="trailer gauge", kind="pressure", step_kpa=1.0,
        offset_kpa=3.0, compared_on=now.date(),
    )  # fmt: skip


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


@pytest.fixture
def wide_lot(tarn, line, now):
    """A lot of a wider rear tire than Robin's."""
    spec = add_spec(
        by=SERVICE, line=line, code="lowmoor-td-r200", axle="rear", size="200/55 ZR17 M/C (78W)", new_depth_mm=6.0,
        wear_limit_mm=1.0,
    )  # fmt: skip
    return receive_lot(
        by=SERVICE, at=now, vendor=tarn, spec=spec, code="lot-200", date_code="0826", quantity=2, received_at=now,
        place="trailer",
    )  # fmt: skip


def take_in(page):
    """Take the wheels that were found in, with all that is filled in already."""
    on_page = page.locator("main")
    on_page.get_by_text("Take these wheels in").first.click()
    expect(page).not_to_have_url(re.compile("riders"))
    if "/tickets/" not in page.url:
        on_page.get_by_role("button", name="Take these wheels in").click()
    expect(page.get_by_role("heading", name=re.compile("Ticket 1"))).to_be_visible()


def test_from_the_rider_found_to_the_slip_in_at_most_twelve_taps_and_one_typed_number(
    tablet, guidance, assessed, gauge, fitter, wheel_pair, rear_lot
):
    sign_in(tablet, fitter)
    expect(tablet.get_by_role("heading", name="Trailer").first).to_be_visible()
    tablet.goto(reverse("find") + "?who=vale")
    tablet.evaluate("sessionStorage.taps = 0")

    take_in(tablet)
    tablet.get_by_role("link", name="Change the rear tire").click()
    tablet.get_by_label("Identification number").click()
    tablet.keyboard.type("0826")
    expect(tablet.get_by_text("Made in the week of 22 Feb 2026")).to_be_visible()
    tablet.get_by_role("button", name="Store the rear wheel").click()
    expect(tablet.get_by_text("Rear tire fitted")).to_be_visible()
    tablet.get_by_role("link", name="Set pressures").click()
    tablet.get_by_role("button", name="Pressures set").click()
    expect(tablet.get_by_text("Pressures set: front")).to_be_visible()
    tablet.get_by_role("link", name="Slip").click()
    expect(tablet.get_by_role("button", name="Print the slip")).to_be_visible()

    the_button_that_prints = 1
    assert int(tablet.evaluate("sessionStorage.taps")) + the_button_that_prints <= MOST_TAPS
    new = fitted_now(wheel_pair).get(axle="rear")
    assert (new.tire.lot, new.tire.identification) == (rear_lot, "0826")
    stored = PressureReading.objects.filter(stint__isnull=True)
    assert {one.tire_id for one in stored} == {one.tire_id for one in fitted_now(wheel_pair)}
    assert {one.instrument for one in stored} == {gauge}


def test_what_speaks_against_a_tire_is_said_as_soon_as_it_is_chosen(
    tablet, assessed, ticket, wide_lot, fitter, wheel_pair
):
    sign_in(tablet, fitter)
    expect(tablet.get_by_role("heading", name="Trailer").first).to_be_visible()
    tablet.goto(reverse("fit", args=[ticket.pk, "rear"]))
    tablet.get_by_text("Another tire, or none").click()

    tablet.get_by_text("200/55 ZR17").click()
    expect(tablet.get_by_text("takes the place of 190/55")).to_be_visible()
    check(tablet, 64)
    tablet.get_by_role("button", name="Fit it all the same").click()
    expect(tablet.get_by_text("Rear tire fitted")).to_be_visible()

    new = fitted_now(wheel_pair).get(axle="rear")
    assert new.tire.lot == wide_lot
    assert "takes the place of 190/55" in Change.objects.get(row=new.pk).after["despite"]


def test_a_number_of_another_week_than_the_lots_and_one_that_cannot_be_are_said_while_typing(
    tablet, assessed, ticket, fitter
):
    sign_in(tablet, fitter)
    expect(tablet.get_by_role("heading", name="Trailer").first).to_be_visible()
    tablet.goto(reverse("fit", args=[ticket.pk, "rear"]))
    number = tablet.get_by_label("Identification number")

    number.fill("0926")
    expect(tablet.get_by_text("The chosen lot is of another week")).to_be_visible()
    number.fill("1ABCDEFH1O826")
    expect(tablet.get_by_text("is it the digit 0?")).to_be_visible()
    number.press("Enter")

    expect(tablet.get_by_role("button", name="Store the rear wheel")).to_be_visible()


def test_without_script_the_question_is_asked_after_sending(
    another, assessed, ticket, wide_lot, fitter, wheel_pair
):
    page = another(java_script_enabled=False)
    sign_in(page, fitter)
    expect(page.get_by_role("heading", name="Trailer").first).to_be_visible()
    page.goto(reverse("fit", args=[ticket.pk, "rear"]))

    page.get_by_text("Another tire, or none").click()
    page.get_by_label("200/55 ZR17").check()
    page.get_by_role("button", name="Store the rear wheel").click()
    expect(page.get_by_text("takes the place of 190/55")).to_be_visible()
    page.get_by_role("button", name="Fit it all the same").click()
    expect(page.get_by_text("Rear tire fitted")).to_be_visible()

    assert fitted_now(wheel_pair).get(axle="rear").tire.lot == wide_lot


def test_pressures_follow_the_temperature_and_the_gauge_until_somebody_sets_one_by_hand(
    tablet, guidance, assessed, gauge, ticket, fitter
):
    sign_in(tablet, fitter)
    expect(tablet.get_by_role("heading", name="Trailer").first).to_be_visible()
    tablet.goto(reverse("pressures", args=[ticket.pk]))
    rear, warmth = (
        tablet.get_by_label("Rear pressure, psi", exact=True),
        tablet.get_by_label("Rear tire temperature, °C", exact=True),
    )
    cold = float(rear.input_value())

    warmth.fill("40")
    expect(tablet.get_by_text("with the tire at 40")).to_be_visible()
    warm = float(rear.input_value())
    tablet.get_by_label("Gauge", exact=True).select_option(label="Another one, taken as true")
    expect(rear).not_to_have_value(str(warm))
    true = float(rear.input_value())
    tablet.get_by_role("button", name="More: Rear pressure, psi").click()
    expect(rear).to_have_value(f"{true + 0.5:.1f}")
    warmth.fill("60")
    expect(tablet.get_by_text("with the tire at 60")).to_be_visible()

    assert cold < true < warm
    assert float(rear.input_value()) == pytest.approx(true + 0.5)


@pytest.mark.parametrize("width", [320, 768, 1280])
def test_setting_and_measuring_fit_every_width_and_a_hand_and_axe_finds_nothing(
    page, guidance, assessed, gauge, ticket, wheel_pair, wide_lot, fitter, width
):
    page.set_viewport_size({"width": width, "height": 900})
    sign_in(page, fitter)
    expect(page.get_by_role("heading", name="Trailer").first).to_be_visible()

    for route, args in (
        ("pressures", [ticket.pk]),
        ("measures", [ticket.pk]),
        ("fit-wheels", [wheel_pair.pk, "rear"]),
        ("wheels-pressures", [wheel_pair.pk]),
    ):
        page.goto(reverse(route, args=args))
        check(page, 64)
