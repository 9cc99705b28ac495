"""Entries made with a network, without one, and with one that goes away in between: each is stored once and none is lost."""

import os
import re
import subprocess
from contextlib import contextmanager

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse

from fleet.running.models import Stint
from tests.pages.browser import FLAGS, check, sign_in
from tests.pages.device import PATIENCE_MS, entries_on, ready, see, settled

pytestmark = pytest.mark.browser


@pytest.fixture
def garage(device, assessed, entry, slot, rider_person):
    """Robin's tablet in the garage, with its copies made."""
    page = device()
    sign_in(page, rider_person)
    see(page.get_by_role("link", name="Log a stint").first)
    ready(page)
    return page


@pytest.fixture
def stint_page(wheel_pair):
    return reverse("stint", args=[wheel_pair.pk])


def store_a_stint(page, laps):
    """Fill in the form that is open, and press its button."""
    page.get_by_label("Laps", exact=True).fill(str(laps))
    page.get_by_role("button", name="Store the stint").click()


def waiting_on(page, count=1):
    words = "1 entry waits" if count == 1 else f"{count} entries wait"
    return page.get_by_text(f"{words} to be sent")


def laps_stored():
    return sorted(Stint.objects.values_list("laps", flat=True))


def test_with_a_network_a_form_is_stored_as_ever(garage, stint_page):
    garage.goto(stint_page)
    store_a_stint(garage, 6)

    see(garage.get_by_text("Stint stored"))
    assert laps_stored() == [6]
    assert [entry["state"] for entry in entries_on(garage)] == ["sent"]


def test_with_no_network_an_entry_waits_and_goes_out_when_the_network_returns(garage, link):
    link.set("down")
    garage.goto(reverse("garage"))
    see(garage.get_by_text("This page is a copy as of"))
    garage.get_by_role("link", name="Log a stint").first.click()
    store_a_stint(garage, 7)

    see(garage.get_by_role("heading", name="Stint, 1000 sport, dry"))
    see(waiting_on(garage))
    see(garage.get_by_text("Laps: 7"))
    check(garage, 64)
    assert laps_stored() == []
    link.set("up")
    garage.get_by_role("button", name="Send now").click()

    see(garage.get_by_text("Sent", exact=True))
    see(garage.get_by_text("Stint stored"))
    assert laps_stored() == [7]


@pytest.mark.parametrize("state", ["down", "deaf", "mute"])
def test_a_link_that_breaks_while_an_entry_goes_out_costs_nothing_and_doubles_nothing(
    garage, stint_page, link, state
):
    garage.goto(stint_page)
    link.set(state)
    store_a_stint(garage, 8)
    see(garage.get_by_role("heading", name="Waiting on this device"))
    see(garage.get_by_text("Waits to be sent", exact=True))
    stored_before = laps_stored()
    link.set("up")

    garage.reload()

    see(garage.get_by_text("Sent", exact=True))
    assert (stored_before, laps_stored()) == ([8] if state == "mute" else [], [8])


def test_two_entries_from_one_copy_of_a_page_are_two(garage, stint_page, link, local):
    link.set("down")
    for laps, out, back in ((5, "10:00", "10:20"), (6, "11:00", "11:20")):
        garage.goto(stint_page)
        see(garage.get_by_text("This page is a copy as of"))
        garage.get_by_label("Out at").fill(f"{local:%Y-%m-%d}T{out}")
        garage.get_by_label("In at").fill(f"{local:%Y-%m-%d}T{back}")
        store_a_stint(garage, laps)
        see(garage.get_by_text(f"Laps: {laps}"))
    see(waiting_on(garage, 2))
    link.set("up")
    garage.get_by_role("button", name="Send now").click()

    settled(garage, "sent", 2)
    assert laps_stored() == [5, 6]


def test_what_the_service_refuses_stays_with_its_reason_and_is_mended_in_its_form(garage, stint_page, link):
    link.set("down")
    garage.goto(stint_page)
    store_a_stint(garage, 4000)
    see(waiting_on(garage))
    link.set("up")
    garage.get_by_role("button", name="Send now").click()

    see(garage.get_by_text("Refused", exact=True))
    see(garage.get_by_text("4000 laps is not plausible: give 1 to 400 laps."))
    see(garage.get_by_text("1 entry was refused"))
    check(garage, 64)
    garage.get_by_role("link", name="Mend").click()
    see(garage.get_by_role("alert").get_by_text("4000 laps is not plausible"))
    assert garage.get_by_label("Laps", exact=True).input_value() == "4000"
    store_a_stint(garage, 9)

    see(garage.get_by_text("Stint stored"))
    assert laps_stored() == [9]
    assert [entry["state"] for entry in entries_on(garage)] == ["sent"]


def test_what_is_refused_while_somebody_looks_is_shown_by_the_page_itself(garage, stint_page):
    garage.goto(stint_page)
    store_a_stint(garage, 4000)

    see(garage.get_by_role("link", name="4000 laps is not plausible: give 1 to 400 laps."))
    assert garage.get_by_label("Laps", exact=True).input_value() == "4000"
    store_a_stint(garage, 10)

    see(garage.get_by_text("Stint stored"))
    assert laps_stored() == [10]
    assert [entry["state"] for entry in entries_on(garage)] == ["sent"]


def test_an_entry_is_dropped_by_hand_only(garage, stint_page, link):
    link.set("down")
    garage.goto(stint_page)
    store_a_stint(garage, 3)
    see(waiting_on(garage))

    garage.get_by_text("Drop this entry").click()
    garage.get_by_role("button", name="Drop for good").click()

    see(garage.get_by_text("Nothing waits."))
    assert entries_on(garage) == []


def test_signed_out_nothing_is_shown_and_what_waits_goes_out_as_the_same_person_only(
    garage, stint_page, link, other_rider, rider_person
):
    link.set("down")
    garage.goto(stint_page)
    store_a_stint(garage, 7)
    see(waiting_on(garage))

    garage.get_by_role("button", name="Sign out").click()
    see(garage.get_by_role("heading", name="The copies are gone; sign out once more"))
    garage.goto(reverse("garage"))
    see(garage.get_by_role("heading", name="No network, and no copy of this page"))

    Session.objects.all().delete()
    link.set("up")
    garage.goto(reverse("garage"))
    see(garage.get_by_role("heading", name="Sign in"))
    see(garage.get_by_text("1 entry waits on this device. Sign in as Robin Vale to send it."))
    sign_in(garage, other_rider.person)
    see(garage.get_by_role("button", name="Sign out"))
    garage.goto(reverse("outbox"))
    see(garage.get_by_text("1 more on this device, made by Robin Vale."))
    assert "Laps: 7" not in garage.content()
    garage.get_by_role("button", name="Send now").click()
    see(garage.get_by_text("Somebody else is signed in by now."))
    assert laps_stored() == []

    garage.get_by_role("button", name="Sign out").click()
    sign_in(garage, rider_person)
    see(garage.get_by_role("link", name="Log a stint").first)
    settled(garage, "sent", 1)
    assert laps_stored() == [7]


def test_a_copy_of_somebody_elses_page_is_never_shown(garage, link, other_rider):
    garage.get_by_role("button", name="Sign out").click()
    sign_in(garage, other_rider.person)
    see(garage.get_by_role("button", name="Sign out"))
    ready(garage)
    link.set("down")

    garage.goto(reverse("garage"))
    see(garage.get_by_text("This page is a copy as of"))
    assert "Robin Vale" not in garage.content()


def test_a_full_device_says_so_before_anything_is_lost(garage, stint_page):
    garage.goto(stint_page)
    # The store of a full device refuses what is put into it.
    garage.evaluate(
        """() => { IDBObjectStore.prototype.put = () => { throw new DOMException("full", "QuotaExceededError"); }; }"""
    )
    store_a_stint(garage, 11)

    see(garage.get_by_role("heading", name="This device could not keep the entry"))
    assert garage.get_by_label("Laps", exact=True).input_value() == "11"
    check(garage, 48)
    garage.get_by_role("button", name="Send it without keeping it").click()

    see(garage.get_by_text("Stint stored"))
    assert laps_stored() == [11]


@contextmanager
def browser_on(chromium, folder):
    """Start a browser of its own process on a folder of its own, and kill it at the end, as a dead battery does."""
    command = [os.environ["FLEET_TEST_BROWSER"], *FLAGS, "--headless=new", "--remote-debugging-port=0"]
    with subprocess.Popen(
        [*command, f"--user-data-dir={folder}", "about:blank"], stderr=subprocess.PIPE, text=True
    ) as process:
        try:
            found = next(
                filter(None, (re.search(r"DevTools listening on (\S+)", line) for line in process.stderr))
            )
            page = chromium.browser_type.connect_over_cdp(found.group(1)).contexts[0].new_page()
            page.set_default_timeout(PATIENCE_MS)
            yield page
        finally:
            process.kill()


def enter(page, link, person):
    page.goto(f"{link.url}/sign-in/")
    page.get_by_label("E-mail address").fill(person.email)
    page.get_by_label("Password").fill("open the trailer")
    page.get_by_role("button", name="Sign in").click()
    see(page.get_by_role("link", name="Log a stint").first)


def test_a_browser_killed_with_entries_waiting_has_them_when_it_is_opened_again(
    chromium, link, assessed, entry, slot, rider_person, stint_page, tmp_path
):
    with browser_on(chromium, tmp_path) as page:
        enter(page, link, rider_person)
        ready(page)
        link.set("down")
        page.goto(link.url + stint_page)
        store_a_stint(page, 12)
        see(page.get_by_role("heading", name="Waiting on this device"))
    # A browser writes cookies down now and then only: killed, it may have forgotten who was signed in.
    Session.objects.all().delete()

    with browser_on(chromium, tmp_path) as page:
        page.goto(f"{link.url}/outbox/")
        see(page.get_by_text("Laps: 12"))
        link.set("up")
        page.get_by_role("button", name="Send now").click()
        see(page.get_by_text("Nobody is signed in."))
        page.get_by_role("link", name="Sign in").click()
        enter(page, link, rider_person)
        settled(page, "sent", 1)

    assert laps_stored() == [12]
