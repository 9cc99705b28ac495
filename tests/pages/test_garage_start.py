"""The garage's start page: the next slot, whether the set lasts the next event, and what it costs to show."""

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_slot, enter
from fleet.inventory.actions import place_hold
from fleet.life.assessments import assess
from fleet.life.outlook import chances_to_last
from fleet.running.actions import record_tread
from fleet.running.models import Stint

KB = 1024
KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch


@pytest.fixture
def shown(as_, rider):
    return lambda: re.sub(r"\s+", " ", as_(rider.person).get("/garage/").content.decode())


@pytest.fixture
def slot_in(day, group, now):
    def add(minutes):
        return add_slot(
            by=SERVICE,
            day=day,
            group=group,
            starts_at=now + timedelta(minutes=minutes),
            ends_at=now + timedelta(minutes=minutes + 20),
        )

    return add


@pytest.fixture
def coming(event, layout, bike, group, now):
    """Enter Robin's bike on days that come in three weeks."""

    def enter_on(days):
        first = now.date() + timedelta(days=21)
        for number in range(days):
            day = add_day(by=SERVICE, event=event, date=first + timedelta(days=number), layout=layout)
            enter(by=SERVICE, day=day, bike=bike, group=group, number="27")

    return enter_on


def on_clock(moment, layout):
    return f"{moment.astimezone(ZoneInfo(layout.track.time_zone)):%H:%M}"


def test_the_next_slot_is_said_on_the_tracks_clock(shown, entry, assessed, slot, slot_in, layout):
    first, second = slot_in(25), slot_in(85)

    page = shown()

    assert f"Next out <strong>{on_clock(first.starts_at, layout)}</strong>" in page
    assert f"then {on_clock(second.starts_at, layout)}" in page


def test_a_group_on_track_is_told_until_when(shown, entry, assessed, slot_in, layout):
    running = slot_in(-5)

    assert f"On track until <strong>{on_clock(running.ends_at, layout)}</strong>" in shown()


def test_after_the_last_slot_the_day_is_said_to_be_over(shown, entry, assessed, slot):
    assert "No more slots today for group Fast" in shown()


def test_without_a_timetable_nothing_is_said_of_slots(shown, entry, assessed):
    page = shown()

    assert "Next out" not in page
    assert "No more slots" not in page


@pytest.mark.parametrize("days", [1, 3])
def test_the_week_before_it_says_whether_the_set_lasts_the_event(shown, coming, assessed, now, days):
    coming(days)
    record_tread(by=SERVICE, at=now, tire=assessed["rear"].tire, zone="C", taken_at=now, depth_mm=1.6)
    tires = [one.tire for one in assessed.values()]
    chances = chances_to_last(dict.fromkeys(tires, days), at=now)

    page = shown()

    assert chances[assessed["rear"].tire_id] < 0.95
    for axle, one in assessed.items():
        percent = min(max(round(chances[one.tire_id] * 100), 1), 99)
        assert f"{axle} {percent} %" in page
    assert ("Next event, one day" if days == 1 else f"Next event, {days} days from") in page


def test_a_worn_set_is_not_likely_to_last_it(shown, coming, assessed, now):
    coming(2)
    record_tread(by=SERVICE, at=now, tire=assessed["rear"].tire, zone="C", taken_at=now, depth_mm=1.1)
    assess(None, at=now)

    page = shown()

    assert "this set is not likely to last all of them" in page


def test_a_set_just_fitted_is_likely_to_last_one_day(shown, coming, assessed):
    coming(1)

    assert "this set is likely to last it" in shown()


def test_an_event_of_today_alone_is_told_by_the_next_day(shown, entry, assessed):
    page = shown()

    assert "this set" not in page
    assert page.count("Lasts the next day") == 2


def test_who_is_entered_nowhere_is_shown_where_to_enter(shown, assessed):
    page = shown()

    assert "No day entered with this bike" in page
    assert 'href="/garage/events/"' in page


@pytest.mark.parametrize("entered", ["today", "later"])
def test_one_three_and_four_hundred_stints_cost_the_same(
    request, as_, rider, assessed, wheel_pair, layout, now, coming, entered
):
    if entered == "today":
        request.getfixturevalue("guidance")
    else:
        coming(2)
    client = as_(rider.person)
    counts = []
    for stints in (1, 3, 400):
        Stint.objects.all().delete()
        Stint.objects.bulk_create(
            Stint(
                wheel_pair=wheel_pair,
                layout=layout,
                started_at=now - timedelta(minutes=30 * number + 30),
                ended_at=now - timedelta(minutes=30 * number + 10),
                laps=7,
                distance_km=28.84,
                recorded_at=now,
            )
            for number in range(stints)
        )
        assess(None, at=now)
        with CaptureQueriesContext(connection) as asked:
            page = client.get("/garage/")
        counts.append(len(asked))
        assert len(page.content) < 100 * KB

    assert len(set(counts)) == 1


def test_on_the_day_what_to_set_now_stands_before_everything_else(shown, guidance, assessed, slot):
    page = shown()

    figures = {
        line.axle: f"{line.shown_kpa / KPA_PER_PSI:.1f}"
        for line in guidance.lines.filter(entry__isnull=False)
    }
    strip = re.search(r'<p class="set-strip">(.*?)</p>', page)
    for axle in ("front", "rear"):
        assert f'{axle.title()} <strong class="figure">{figures[axle]}</strong> psi, tire at 22' in strip[1]
    assert strip.start() < page.index("Log a stint")


def test_a_tire_that_must_stay_in_is_named_and_not_given_a_pressure(
    shown, guidance, assessed, fitted, tarn, now
):
    place_hold(by=SERVICE, at=now, tire=fitted["rear"].tire, placed_for=tarn, reason="damage", placed_at=now)

    strip = re.search(r'<p class="set-strip">(.*?)</p>', shown())[1]

    assert "Rear <strong>must not go out</strong>" in strip
    assert strip.count("figure") == 1


def test_before_the_day_there_is_nothing_to_set_now(shown, assessed, coming):
    coming(1)

    assert "set-strip" not in shown()
