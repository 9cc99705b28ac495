"""The pages as a real browser shows them: quick, quiet, narrow, and open to everybody."""

import os
import time
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import sync_playwright

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import take_wheels_in
from fleet.running.models import Stint

pytestmark = pytest.mark.browser
AXE = Path(__file__).parents[1] / "vendor/axe-core-4.14.1/axe.min.js"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PEOPLE = {"trailer": "fitter", "garage": "rider_person", "desk": "director"}


@pytest.fixture(scope="module")
def chromium():
    with pytest.MonkeyPatch.context() as environment, sync_playwright() as playwright:
        environment.setenv(
            "DJANGO_ALLOW_ASYNC_UNSAFE", "true"
        )  # Playwright's loop runs in the test's own thread
        browser = playwright.chromium.launch(executable_path=os.environ["FLEET_TEST_BROWSER"], args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium, live_server):
    """A phone 320 px wide; anything it writes on its console fails the test."""
    context = chromium.new_context(base_url=live_server.url, viewport={"width": 320, "height": 700})
    opened = context.new_page()
    said = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    yield opened
    context.close()
    assert said == []


@pytest.fixture
def scene(guidance, bulletin, assessed, slot, tarn, wheel_pair, fitter, director, now):
    """A day in full swing, and the address of each page worth a look."""
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    day = bulletin.day
    return {
        "trailer": [
            reverse("trailer"),
            reverse("find") + "?who=vale",
            reverse("ticket", args=[ticket.pk]),
            reverse("fit", args=[ticket.pk, "rear"]),
            reverse("slip", args=[ticket.pk]),
        ],
        "garage": [
            reverse("garage"),
            reverse("stint", args=[wheel_pair.pk]),
            reverse("tire", args=[assessed["rear"].tire_id]),
            reverse("units"),
        ],
        "desk": [
            reverse("desk"),
            reverse("day", args=[day.pk]),
            reverse("weather", args=[day.pk]),
            reverse("gate", args=[day.pk]) + "?number=27",
            reverse("bulletin", args=[day.public_code]),
            reverse("board", args=[day.public_code]),
        ],
    }


def sign_in(page, person):
    page.goto("/sign-in/")
    page.get_by_label("E-mail address").fill(person.email)
    page.get_by_label("Password").fill("open the trailer")
    page.get_by_role("button", name="Sign in").click()


def too_small(page, least_px):
    return page.evaluate(
        """least => [...document.querySelectorAll(
            "main button, main select, main textarea, main a.button, main summary, main input:not([type=radio], [type=hidden])"
        )].filter(one => one.checkVisibility() && one.getBoundingClientRect().height < least)
          .map(one => one.outerHTML.slice(0, 120))""",
        least_px,
    )


def found_by_axe(page):
    page.evaluate(AXE.read_text())
    report = page.evaluate("async () => await axe.run()")
    assert len(report["passes"]) > 10
    return [(rule["id"], [node["html"] for node in rule["nodes"]]) for rule in report["violations"]]


@pytest.mark.parametrize(("place", "least_px"), [("trailer", 64), ("garage", 48), ("desk", 48)])
def test_every_page_fits_a_phone_and_a_hand_and_axe_finds_nothing(request, page, scene, place, least_px):
    sign_in(page, request.getfixturevalue(PEOPLE[place]))

    for address in scene[place]:
        page.goto(address)
        too_wide = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )

        assert found_by_axe(page) == [], address
        assert too_wide <= 0, address
        assert too_small(page, least_px) == [], address


def test_a_stint_is_logged_with_the_steppers_in_under_twenty_seconds(page, scene, rider_person):
    sign_in(page, rider_person)
    started = time.monotonic()

    page.get_by_role("link", name="Log a stint").click()
    page.get_by_label("Front, hot, psi", exact=True).fill("33.5")
    page.get_by_label("Rear, hot, psi", exact=True).fill("31.5")
    page.get_by_role("button", name="More: Rear, hot, psi").click()
    page.get_by_label("Laps", exact=True).fill("6")
    page.get_by_role("button", name="More: Laps").click()
    page.get_by_text("Good, planted").click()
    page.get_by_role("button", name="Store the stint").click()
    page.get_by_text("Stint stored").wait_for()

    assert time.monotonic() - started < 20
    stint = Stint.objects.get()
    assert stint.laps == 7
    page.get_by_role("link", name="Mirrin Lowmoor TD 190/55 ZR17 M/C (75W)").click()
    assert page.get_by_role("cell", name="32.0").is_visible()


def test_a_stint_can_be_logged_without_script(chromium, live_server, scene, rider_person):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    sign_in(page, rider_person)

    page.get_by_role("link", name="Log a stint").click()
    page.get_by_label("Laps", exact=True).fill("5")
    page.get_by_role("button", name="Store the stint").click()

    assert page.get_by_text("Stint stored").is_visible()
    context.close()


def test_the_bulletin_prints_on_one_page_and_the_slip_on_one(page, scene, fitter, tmp_path):
    sign_in(page, fitter)

    for address in (scene["desk"][4], scene["trailer"][4]):
        page.goto(address)
        printed = page.pdf(prefer_css_page_size=True)

        assert printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") == 1, address
