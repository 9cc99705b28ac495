"""The cast of the pages: the same people, on the day the tests run, since a page reads the clock itself."""

import os
import threading
from datetime import datetime, time, timedelta
from time import monotonic
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone
from playwright.sync_api import sync_playwright

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_slot, correct_entry, record_conditions
from fleet.life.assessments import assess
from fleet.pressures.actions import draft_day, issue_bulletin
from tests.pages.browser import FLAGS
from tests.pages.device import PATIENCE_MS
from tests.pages.link import Link

BLOCKED = "Service Worker registration blocked by Playwright"
ANSWERING_S = 60


@pytest.fixture
def now():
    return timezone.now().replace(second=0, microsecond=0)


@pytest.fixture
def track(track, now):
    """The track lies where it is about noon now, so that no slot of these tests runs over midnight."""
    ahead = 12 - now.hour
    track.time_zone = f"Etc/GMT{-ahead:+d}" if ahead else "UTC"
    track.save()
    return track


@pytest.fixture
def local(now, layout):
    """The present moment on the track's clock."""
    return now.astimezone(ZoneInfo(layout.track.time_zone)).replace(tzinfo=None)


@pytest.fixture
def day(event, layout, now):
    today = now.astimezone(ZoneInfo(layout.track.time_zone)).date()
    return add_day(by=SERVICE, event=event, date=today, layout=layout)


@pytest.fixture
def slot(day, group, now):
    """The group's stretch that ended ten minutes ago."""
    return add_slot(
        by=SERVICE,
        day=day,
        group=group,
        starts_at=now - timedelta(minutes=30),
        ends_at=now - timedelta(minutes=10),
    )


@pytest.fixture
def conditions(day, now):
    return record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now,
        standing="observed",
        source="a thermometer in the shade",
        air_c=22.0,
        track_surface_c=35.0,
        altimeter_kpa=101.6,
    )


@pytest.fixture
def assessed(fitted, now):
    assess(None, at=now)
    return fitted


@pytest.fixture
def guidance(conditions, entry, fitted, now, day):
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.fixture
def at_three(day, layout):
    """Three o'clock of the day at the track."""
    return datetime.combine(day.date, time(15), ZoneInfo(layout.track.time_zone))


@pytest.fixture
def by_part(conditions, entry, slot, group, assessed, now, day, at_three):
    """About noon at 22 degrees, with a slot at three for which 38 are forecast; off warmers, so that the figures differ."""
    correct_entry(by=SERVICE, entry=entry, uses_warmers=True)
    add_slot(by=SERVICE, day=day, group=group, starts_at=at_three, ends_at=at_three + timedelta(minutes=20))
    record_conditions(
        by=SERVICE, at=now, day=day, holds_at=at_three, standing="forecast", source="made up", air_c=38.0, track_surface_c=58.0
    )  # fmt: skip
    day.refresh_from_db()
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.fixture
def bulletin(guidance, now, day):
    return issue_bulletin(by=SERVICE, at=now, day=day)


@pytest.fixture
def as_(db):
    """A browser in which somebody is signed in."""

    def open_as(person):
        client = Client()
        client.force_login(person)
        return client

    return open_as


@pytest.fixture
def sure(as_):
    """A browser in which somebody is signed in and gave the password once more."""

    def open_sure(person):
        client = as_(person)
        client.post("/account/again/", {"password": "open the trailer"})
        return client

    return open_sure


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
def server(live_server):
    """The service on a port of its own; when the browsers are closed, what it still answers is waited for.

    Without that a request on its way meets the emptying of the tables: a deadlock on PostgreSQL, and rows left over.
    """
    yield live_server
    end = monotonic() + ANSWERING_S
    for thread in threading.enumerate():
        if "(process_request_thread)" in thread.name:
            thread.join(max(0.0, end - monotonic()))
            assert not thread.is_alive(), "a connection outlived its browser"


@pytest.fixture
def page(chromium, server):
    """A phone 320 px wide; anything it writes on its console fails the test."""
    # Without the service worker, whose copies of pages have tests of their own (``device``): in the background it would
    # ask for pages while the next test begins.
    context = chromium.new_context(
        base_url=server.url, viewport={"width": 320, "height": 700}, service_workers="block"
    )
    opened = context.new_page()
    said = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    yield opened
    context.close()
    assert [text for text in said if BLOCKED not in text] == []


@pytest.fixture
def another(chromium, server):
    """More browsers, each with nothing kept from before; what they write on their consoles is not looked at."""
    contexts = []

    def open_one(**options):
        context = chromium.new_context(base_url=server.url, **options)
        contexts.append(context)
        return context.new_page()

    yield open_one
    for context in contexts:
        context.close()


@pytest.fixture
def link(server):
    """The way from the devices to the service, whole until a test breaks it."""
    opened = Link(server.thread.port)
    yield opened
    opened.close()


@pytest.fixture
def device(chromium, link):
    """Tablets with everything a tablet has: the service worker, its copies, and an outbox of their own."""
    contexts = []

    def switch_on(**options):
        context = chromium.new_context(base_url=link.url, viewport={"width": 768, "height": 1024}, **options)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        return context.new_page()

    yield switch_on
    link.set("down")
    for context in contexts:
        context.close()
