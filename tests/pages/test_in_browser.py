"""The pages as a real browser shows them: quick, quiet, narrow, and open to everybody."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.events.models import Event
from fleet.garage.actions import add_wheel_pair, invite, register_rider
from fleet.inventory.actions import add_own_tire, list_spec, reserve, take_wheels_in
from fleet.running.models import Stint
from tests.pages.browser import check, found_by_axe, sign_in
from tests.pages.test_second_factor import code_of_app

pytestmark = pytest.mark.browser
PEOPLE = {"trailer": "fitter", "store": "stock_manager", "garage": "rider_person", "desk": "director"}


@pytest.fixture
def scene(guidance, bulletin, assessed, slot, tarn, wheel_pair, rear_lot, fitter, director, now):
    """A day in full swing, and the address of each page worth a look."""
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    more = add_wheel_pair(by=SERVICE, bike=wheel_pair.bike, code="w-wet", name="wet", is_in_use=False)
    spare = add_own_tire(by=SERVICE, at=now, rider=wheel_pair.bike.rider, spec=rear_lot.spec)
    day = bulletin.day
    Event.objects.update(takes_entries=True)
    listing = list_spec(by=SERVICE, vendor=tarn, spec=rear_lot.spec, price=185, low_at=2)
    reserve(
        by=SERVICE,
        at=now,
        rider=wheel_pair.bike.rider,
        vendor=tarn,
        spec=listing.spec,
        quantity=1,
        wanted_on=day.date,
    )
    return {
        "trailer": [
            reverse("trailer"),
            reverse("find") + "?who=vale",
            reverse("take-in", args=[more.pk]),
            reverse("wishes", args=[ticket.pk]),
            reverse("ticket-board"),
            reverse("ticket", args=[ticket.pk]),
            reverse("fit", args=[ticket.pk, "rear"]),
            reverse("slip", args=[ticket.pk]),
            reverse("reservations"),
            reverse("expected"),
            reverse("waiting"),
        ],
        "store": [
            reverse("stock"),
            reverse("lot", args=[rear_lot.pk]),
            reverse("receive"),
            reverse("send-list"),
            reverse("prices"),
            reverse("day-sheet") + "?date=2026-06-12",
        ],
        "garage": [
            reverse("garage"),
            reverse("stint", args=[wheel_pair.pk]),
            reverse("tire", args=[assessed["rear"].tire_id]),
            reverse("units"),
            reverse("keys"),
            reverse("account"),
            reverse("account_change_password"),
            reverse("visits"),
            reverse("telling"),
            reverse("account_reauthenticate"),
            reverse("account_request_reauthentication_code"),
            reverse("people"),
            reverse("own-data"),
            reverse("bike", args=[wheel_pair.bike_id]),
            reverse("wheels", args=[wheel_pair.bike_id]),
            reverse("add-bike"),
            reverse("own-tire", args=[wheel_pair.pk]),
            reverse("spare-tires"),
            reverse("hand-over", args=[spare.pk]),
            reverse("tire-off", args=[wheel_pair.pk, "rear"]),
            reverse("gauge"),
            reverse("history"),
            reverse("history") + f"?about={wheel_pair.bike_id}",
            reverse("ride-at"),
            reverse("reserve"),
            reverse("outbox"),
        ],
        "desk": [
            reverse("desk"),
            reverse("day", args=[day.pk]),
            reverse("weather", args=[day.pk]),
            reverse("gate", args=[day.pk]) + "?number=27",
            reverse("keys"),
            reverse("bulletin", args=[day.public_code]),
            reverse("board", args=[day.public_code]),
            reverse("invitations"),
            reverse("people"),
            reverse("history"),
        ],
    }


@pytest.mark.parametrize(
    ("place", "least_px"), [("trailer", 64), ("store", 64), ("garage", 48), ("desk", 48)]
)
def test_every_page_fits_a_phone_and_a_hand_and_axe_finds_nothing(request, page, scene, place, least_px):
    sign_in(page, request.getfixturevalue(PEOPLE[place]))

    for address in scene[place]:
        page.goto(address)
        check(page, least_px)


def test_the_way_in_fits_a_phone_and_a_hand_and_axe_finds_nothing(page, tarn, fitter, now):
    walk_in = register_rider(by=SERVICE, code="r-walk", name="Wyn Tarrow", registered_with=tarn)
    _, token = invite(by=fitter, at=now, rider=walk_in)

    for address in (
        reverse("sign-in"),
        reverse("account_signup"),
        reverse("account_request_login_code"),
        reverse("account_reset_password"),
        reverse("claim", args=[token]),
    ):
        page.goto(address)
        check(page, 48)
    page.get_by_role("link", name="Make an account").click()
    page.get_by_role("button", name="Make the account").click()
    expect(page.get_by_text("is missing: fill it in").first).to_be_visible()
    check(page, 48)


@pytest.mark.parametrize("width", [320, 768, 1280])
def test_the_documentation_of_the_api_fits_every_width_and_axe_finds_nothing(page, width):
    page.set_viewport_size({"width": width, "height": 900})

    for address in ("/api/", "/api/reference/stints/", "/api/reference/bulletins/", "/api/reference/me/"):
        page.goto(address)
        check(page, 48)


def test_a_second_factor_is_set_up_on_a_phone(page, rider):
    sign_in(page, rider.person)
    page.goto(reverse("mfa_activate_totp"))
    page.get_by_label("Password").fill("open the trailer")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_label("Code")).to_be_visible()
    check(page, 48)
    secret = page.locator("main strong").inner_text()
    page.get_by_label("Code").fill(code_of_app(secret))
    page.get_by_role("button", name="Begin to ask for it").click()

    page.get_by_role("heading", name="Recovery codes").wait_for()
    check(page, 48)
    page.goto(reverse("mfa_deactivate_totp"))
    check(page, 48)


def test_an_archive_is_taken_out_and_an_account_erased_on_a_phone(page, assessed, rider_person):
    sign_in(page, rider_person)
    page.goto(reverse("own-data"))
    page.get_by_role("link", name="Take it out").click()
    page.get_by_label("Password").fill("open the trailer")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("button", name="Download the archive")).to_be_visible()
    check(page, 48)
    with page.expect_download() as download:
        page.get_by_role("button", name="Download the archive").click()
    assert download.value.suggested_filename.endswith(".zip")

    page.goto(reverse("erase"))
    check(page, 48)
    page.get_by_label("Your e-mail address").fill("robin@example.org")
    page.get_by_role("button", name="Erase for good").click()

    page.get_by_text("your account is closed").wait_for()
    check(page, 48)


def test_a_stint_is_logged_with_the_steppers(page, scene, rider_person):
    sign_in(page, rider_person)

    page.get_by_role("link", name="Log a stint").click()
    page.get_by_label("Front, hot, psi", exact=True).fill("33.5")
    page.get_by_label("Rear, hot, psi", exact=True).fill("31.5")
    page.get_by_role("button", name="More: Rear, hot, psi").click()
    page.get_by_label("Laps", exact=True).fill("6")
    page.get_by_role("button", name="More: Laps").click()
    page.get_by_text("Good, planted").click()
    page.get_by_role("button", name="Store the stint").click()

    expect(page.get_by_text("Stint stored")).to_be_visible()
    stint = Stint.objects.get()
    assert stint.laps == 7
    page.get_by_role("link", name="Rear", exact=True).click()
    expect(page.get_by_role("cell", name="32.0")).to_be_visible()


def test_a_stint_can_be_logged_without_script(another, scene, rider_person):
    page = another(java_script_enabled=False)
    sign_in(page, rider_person)

    page.get_by_role("link", name="Log a stint").click()
    page.get_by_label("Laps", exact=True).fill("5")
    page.get_by_role("button", name="Store the stint").click()

    expect(page.get_by_text("Stint stored")).to_be_visible()


def test_a_key_is_made_read_and_revoked_on_a_phone(page, scene, director):
    sign_in(page, director)
    page.goto(reverse("keys"))

    page.get_by_label("Longfield Track Days, as event crew").check()
    page.get_by_label("Name").fill("board in the pit lane")
    page.get_by_label("Read everything").check()
    page.get_by_role("button", name="Make the key").click()
    page.get_by_label("Password").fill("open the trailer")
    page.get_by_role("button", name="Go on").click()
    secret = page.get_by_label("Key, shown only now")

    assert re.fullmatch(r"fleet_[0-9a-f]{10}_[\w-]{43}", secret.input_value())
    assert secret.evaluate("one => one.scrollHeight <= one.clientHeight"), "the whole key is in view"
    assert found_by_axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    page.get_by_text("Revoke board in the pit lane").click()
    page.get_by_role("button", name="Revoke for good").click()
    expect(page.get_by_text("nothing gets in with it any more")).to_be_visible()
    assert found_by_axe(page) == []


def test_the_bulletin_prints_on_one_page_and_the_slip_on_one(page, scene, fitter, tmp_path):
    sign_in(page, fitter)

    for address in (scene["desk"][5], scene["trailer"][-1]):
        page.goto(address)
        printed = page.pdf(prefer_css_page_size=True)

        assert printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") == 1, address
