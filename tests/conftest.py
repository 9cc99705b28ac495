"""The cast: two vendors, an organiser, their people, two riders and a stranger, on one invented Friday in June."""

import gc
import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import hypothesis
import pytest
from django.conf import settings as django_settings
from django.core.cache import cache
from django.db import transaction
from django.test import TransactionTestCase, override_settings
from whitenoise.middleware import WhiteNoiseMiddleware

from fleet.accounts.actions import add_organisation, add_person, give_role
from fleet.accounts.models import Role
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec
from fleet.events.actions import add_day, add_group, add_layout, add_slot, add_track, enter, plan_event
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import enter_recall, fit_tire, receive_lot
from fleet.running.actions import log_stint
from tests.emptying import empty_what_was_written

NEEDS = {
    "postgres": ("FLEET_DATABASE_URL", "PostgreSQL"),
    "redis": ("FLEET_TEST_REDIS_URL", "Redis"),
    "browser": ("FLEET_TEST_BROWSER", "a Chromium"),
}
DATABASE = {"db", "transactional_db", "live_server"}
LONG = (
    "api/fuzz/",
    "access/",
    "api/test_api_reordered",
    "journeys/",
    "calibration/",
    "exchange/test_round_trip",
    "pages/test_in_browser",
    "pages/test_outbox_in_browser",
    "pages/test_trailer_without_network",
    "privacy/test_round_trip",
    "privacy/test_same_numbers",
)

# A busy machine is no counterexample.
hypothesis.settings.register_profile("steady", deadline=None, derandomize="CI" in os.environ)
hypothesis.settings.load_profile("steady")


def pytest_configure(config):
    if not os.environ.get("FLEET_TEST_BROWSER"):
        for path in ("/usr/bin/chromium", "/usr/bin/chromium-browser"):
            if Path(path).exists():
                os.environ["FLEET_TEST_BROWSER"] = path


def pytest_collection_modifyitems(config, items):
    # Files are handed to the workers in this order: one that takes minutes and comes last is waited for alone.
    items.sort(key=lambda item: not str(item.path.relative_to(Path(__file__).parent)).startswith(LONG))
    if os.environ.get("FLEET_REQUIRE_SERVICES") == "1":
        # What touches no database and no server says nothing new beside another database.
        aside = [item for item in items if not _touches_a_service(item)]
        config.hook.pytest_deselected(items=aside)
        items[:] = [item for item in items if _touches_a_service(item)]
        return
    for item in items:
        for marker, (variable, what) in NEEDS.items():
            if item.get_closest_marker(marker) and os.environ.get(variable, "none") == "none":
                item.add_marker(pytest.mark.skip(reason=f"needs {what}: set {variable}"))


def pytest_collection_finish(session):
    # What is imported and collected stays until the end: looked through again with every test it is a tenth of the time.
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def _touches_a_service(item):
    marks = {mark.name for mark in item.iter_markers()}
    return not marks.isdisjoint({"django_db", *NEEDS}) or not DATABASE.isdisjoint(item.fixturenames)


@pytest.fixture(autouse=True, scope="session")
def _quick_passwords():
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]):
        yield


@pytest.fixture(autouse=True)
def _no_tries_counted(settings):
    """What an earlier test tried is not held against this one, and no test empties a real cache."""
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    cache.clear()
    settings.API_REQUESTS_PER_MINUTE = 0


@pytest.fixture(autouse=True, scope="session")
def _only_what_was_written_is_emptied():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", empty_what_was_written)
        yield


@pytest.fixture(autouse=True, scope="session")
def _static_files_looked_up_once():
    """Each test client makes the middleware anew, and each would go through the folders of static files."""
    found = {}
    look = WhiteNoiseMiddleware.add_files_from_finders

    def look_once(middleware):
        kept = (middleware.static_prefix, middleware.max_age, middleware.charset)
        if kept not in found:
            look(middleware)
            found[kept] = dict(middleware.files)
        middleware.files.update(found[kept])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(WhiteNoiseMiddleware, "add_files_from_finders", look_once)
        yield


@pytest.fixture(scope="module")
def kept_for_the_module(django_db_setup, django_db_blocker):
    """What fixtures of a module write is there for all its tests, each of which undoes its own, and gone after the last."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture(autouse=True, scope="session")
def _photos_of_the_tests(tmp_path_factory):
    django_settings.PHOTO_DIR = tmp_path_factory.mktemp("photos")


@pytest.fixture
def now():
    return datetime(2026, 6, 12, 11, 0, tzinfo=UTC)


@pytest.fixture
def tarn(db):
    return add_organisation(
        by=SERVICE,
        code="tarn",
        name="Tarn Tire Service",
        is_vendor=True,
        is_organiser=False,
        contact="trailer 1",
    )


@pytest.fixture
def breckside(db):
    return add_organisation(
        by=SERVICE, code="breckside", name="Breckside Wheel Works", is_vendor=True, is_organiser=False
    )


@pytest.fixture
def longfield(db):
    return add_organisation(
        by=SERVICE, code="longfield", name="Longfield Track Days", is_vendor=False, is_organiser=True
    )


def somebody(name, organisation=None, role=None):
    person = add_person(
        by=SERVICE, email=f"{name.split()[0].lower()}@example.org", name=name, password="open the trailer"
    )
    if organisation is not None:
        give_role(by=SERVICE, person=person, organisation=organisation, role=role)
    return person


@pytest.fixture
def fitter(tarn):
    return somebody("Fen Aldous", tarn, Role.FITTER)


@pytest.fixture
def stock_manager(tarn):
    return somebody("Sal Whitlow", tarn, Role.STOCK_MANAGER)


@pytest.fixture
def crew(longfield):
    return somebody("Corin Bly", longfield, Role.CREW)


@pytest.fixture
def director(longfield):
    return somebody("Dara Quill", longfield, Role.DIRECTOR)


@pytest.fixture
def inspector(longfield):
    return somebody("Ines Marlowe", longfield, Role.INSPECTOR)


@pytest.fixture
def tester(longfield):
    return somebody("Tove Harker", longfield, Role.TESTER)


@pytest.fixture
def stranger(breckside):
    """Breckside's fitter: a colleague of nobody here."""
    return somebody("Stan Oram", breckside, Role.FITTER)


@pytest.fixture
def rider_person(db):
    return somebody("Robin Vale")


@pytest.fixture
def rider(rider_person, tarn):
    return register_rider(
        by=SERVICE, code="r-001", name="Robin Vale", person=rider_person, registered_with=tarn
    )


@pytest.fixture
def other_rider(db):
    return register_rider(by=SERVICE, code="r-002", name="Ottie Crane", person=somebody("Ottie Crane"))


@pytest.fixture
def bike(rider):
    return add_bike(
        by=SERVICE, rider=rider, code="b-001", description="1000 sport", front_rim_in=3.5, rear_rim_in=6.0
    )


@pytest.fixture
def wheel_pair(bike):
    return add_wheel_pair(by=SERVICE, bike=bike, code="w-001", name="dry")


@pytest.fixture
def line(db):
    return add_line(by=SERVICE, maker="Mirrin", name="Lowmoor TD", category="track_day", carcass="soft")


@pytest.fixture
def front_spec(line):
    return add_spec(
        by=SERVICE,
        line=line,
        code="lowmoor-td-f",
        axle="front",
        size="120/70 ZR17 M/C (58W)",
        new_depth_mm=5.0,
        wear_limit_mm=1.0,
        lower_kpa=160.0,
        upper_kpa=260.0,
    )


@pytest.fixture
def rear_spec(line):
    return add_spec(
        by=SERVICE,
        line=line,
        code="lowmoor-td-r",
        axle="rear",
        size="190/55 ZR17 M/C (75W)",
        new_depth_mm=6.0,
        wear_limit_mm=1.0,
        lower_kpa=150.0,
        upper_kpa=290.0,
    )


def delivery(vendor, spec, code, now, quantity=4):
    return receive_lot(
        by=SERVICE,
        at=now,
        vendor=vendor,
        spec=spec,
        code=code,
        date_code="0826",
        quantity=quantity,
        received_at=now - timedelta(days=30),
        place="trailer",
    )


@pytest.fixture
def front_lot(tarn, front_spec, now):
    return delivery(tarn, front_spec, "lot-f", now)


@pytest.fixture
def rear_lot(tarn, rear_spec, now):
    return delivery(tarn, rear_spec, "lot-r", now)


@pytest.fixture
def fitted(wheel_pair, front_lot, rear_lot, now):
    """The set on Robin's wheels since seven this morning: fittings by axle."""
    return {
        axle: fit_tire(
            by=SERVICE, at=now, wheel_pair=wheel_pair, axle=axle, fitted_at=now - timedelta(hours=4), lot=lot
        )
        for axle, lot in (("front", front_lot), ("rear", rear_lot))
    }


@pytest.fixture
def track(db):
    return add_track(
        by=SERVICE,
        code="marram-point",
        name="Marram Point Circuit",
        latitude_deg=52.9,
        longitude_deg=0.4,
        altitude_m=18.0,
        time_zone="Europe/London",
    )


@pytest.fixture
def layout(track):
    return add_layout(by=SERVICE, track=track, code="marram-point-full", name="Full", length_km=4.12)


@pytest.fixture
def event(longfield):
    return plan_event(by=SERVICE, organiser=longfield, code="june-friday", name="Longfield June Friday")


@pytest.fixture
def group(event):
    return add_group(by=SERVICE, event=event, name="Fast", usual_lap_s=112.0)


@pytest.fixture
def day(event, layout):
    return add_day(by=SERVICE, event=event, date=date(2026, 6, 12), layout=layout)


@pytest.fixture
def slot(day, group, now):
    return add_slot(
        by=SERVICE,
        day=day,
        group=group,
        starts_at=now + timedelta(minutes=30),
        ends_at=now + timedelta(minutes=50),
    )


@pytest.fixture
def entry(day, bike, group):
    return enter(by=SERVICE, day=day, bike=bike, group=group, number="27")


@pytest.fixture
def stint(fitted, rider_person, wheel_pair, entry, now):
    """Robin's first twenty minutes of the day, eight laps, ended half an hour ago."""
    return log_stint(
        by=rider_person,
        at=now,
        wheel_pair=wheel_pair,
        started_at=now - timedelta(minutes=50),
        ended_at=now - timedelta(minutes=30),
        day=entry.day,
        laps=8,
        front_set_kpa=205.0,
        rear_set_kpa=190.0,
    )


@pytest.fixture
def recall(front_spec, now):
    """Recall the front spec of weeks 6 to 10 for everybody, unless told otherwise."""

    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "reference": "W-14",
            "issued_by": "Mirrin",
            "published_on": date(2026, 6, 11),
            "spec": front_spec,
            "first_code": "0626",
            "last_code": "1026",
            "what_to_do": "Bring it to your vendor: it is exchanged.",
        }
        return enter_recall(**(given | changes))

    return do
