"""A tire's story on its page: the line of its tread, heat cycles with why, what it gave, and who sees which."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.life.assessments import assess
from fleet.life.forecasts import forecast_of
from fleet.life.models import Assessment
from fleet.running.actions import log_stint, record_tread
from fleet.running.models import CycleCorrection, Stint

KM_PER_MILE = 1.609344  # NIST SP 811 (2008), appendix B.8


@pytest.fixture
def ridden(rider, wheel_pair, layout, fitted, now):
    def log(minutes_ago=200, minutes=20, **changes):
        start = now - timedelta(minutes=minutes_ago)
        stint = {
            "layout": layout,
            "started_at": start,
            "ended_at": start + timedelta(minutes=minutes),
            "laps": 8,
        }
        return log_stint(by=SERVICE, at=now, wheel_pair=wheel_pair, **(stint | changes))

    return log


@pytest.fixture
def rear(fitted, ridden, now):
    """Robin's rear after a stint, read in the centre."""
    ridden()
    record_tread(by=SERVICE, at=now, tire=fitted["rear"].tire, zone="C", taken_at=now, depth_mm=5.4)
    assess(None, at=now)
    return fitted["rear"].tire


@pytest.fixture
def shown(as_, rider):
    def get(tire, person=None):
        answer = as_(person or rider.person).get(reverse("tire", args=[tire.pk]))
        assert answer.status_code == 200
        return re.sub(r"\s+", " ", answer.content.decode())

    return get


def test_the_line_of_the_tread_is_drawn_and_told_in_a_table(shown, rear, now):
    _, found = forecast_of(rear, at=now)

    page = shown(rear)

    assert page.count('class="band" d="M') == 1
    assert "The line is fitted to zone <strong>C</strong>" in page
    assert f"{found.points[-1].middle_km:.0f} km" in page
    assert f"{found.points[-1].low_km:.0f} km \N{EN DASH} {found.points[-1].high_km:.0f} km" in page


def test_it_is_told_in_miles_to_who_reads_miles(shown, rear, rider, now):
    rider.person.distance_unit = "mi"
    rider.person.save()
    _, found = forecast_of(rear, at=now)

    assert f"{found.points[-1].middle_km / KM_PER_MILE:.0f} mi" in shown(rear)


def test_a_tire_without_a_reading_says_what_the_line_rests_on(shown, fitted, now):
    assess(None, at=now)

    page = shown(fitted["front"].tire)

    assert "No zone was read yet" in page
    assert "None yet: no stint on this tire was logged." in page
    assert "it has not run a day on track" in page


def test_each_heat_cycle_says_why_it_was_counted(shown, fitted, ridden, now):
    ridden(minutes_ago=220)
    ridden(minutes_ago=60)
    ridden(minutes_ago=30, minutes=2, laps=1)

    page = shown(fitted["rear"].tire)

    assert "The first time it got to working temperature." in page
    assert "It had 2 h 20 min to cool, and got to working temperature again." in page
    assert page.count("<strong>One</strong>") == 2
    assert page.count("<strong>None</strong>") == 1


def test_an_owner_takes_a_cycle_back_and_it_counts_no_more(as_, rider, shown, rear, now):
    stint = Stint.objects.get()
    address = reverse("correct-cycle", args=[rear.pk, stint.pk])
    assert Assessment.objects.get(tire=rear, is_newest=True).heat_cycles == 1

    as_(rider.person).post(address, {"was": "none"})
    assess(None, at=now)

    assert Assessment.objects.get(tire=rear, is_newest=True).heat_cycles == 0
    page = shown(rear)
    assert "You said it did not warm through" in page
    as_(rider.person).post(address, {"was": "one"})
    assert not CycleCorrection.objects.standing().exists()
    assert "You said it did not warm through" not in shown(rear)


def test_saying_it_twice_stores_it_once(as_, rider, rear):
    address = reverse("correct-cycle", args=[rear.pk, Stint.objects.get().pk])

    for _ in range(2):
        assert as_(rider.person).post(address, {"was": "none"}).status_code == 302

    assert CycleCorrection.objects.count() == 1


def test_another_rider_corrects_nothing(as_, other_rider, rear):
    answer = as_(other_rider.person).post(
        reverse("correct-cycle", args=[rear.pk, Stint.objects.get().pk]), {"was": "none"}
    )

    assert answer.status_code == 404
    assert not CycleCorrection.objects.exists()


def test_what_it_gives_is_told_to_its_owner(shown, rear):
    page = shown(rear)

    # 6.0 mm when new, 5.4 mm read after one day of eight laps: 0.60 mm a day, 7.50 mm in a hundred laps.
    assert "0.60 mm" in page
    assert "7.50 mm" in page
    assert "no price noted" in page
    assert "Fewer than five other riders" in page


def test_a_fitter_sees_the_line_and_not_what_the_stints_tell(shown, fitter, rear):
    page = shown(rear, fitter)

    assert 'class="band" d="M' in page
    for heading in ("Heat cycles</h2>", "What it gives", "That was none"):
        assert heading not in page


def test_four_hundred_stints_cost_as_many_questions_as_three(as_, rider, rear, wheel_pair, layout, now):
    client = as_(rider.person)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(reverse("tire", args=[rear.pk]))
        assert answer.status_code == 200
        return len(queries), len(answer.content)

    few, _ = asked()
    Stint.objects.bulk_create(
        Stint(
            wheel_pair=wheel_pair,
            layout=layout,
            started_at=now - timedelta(seconds=20 * number + 1200),
            ended_at=now - timedelta(seconds=20 * number + 1190),
            laps=1,
            distance_km=0.5,
            recorded_at=now,
        )
        for number in range(400)
    )
    many, size = asked()

    assert many == few
    assert size < 100 * 1024


def test_earlier_stints_are_a_link_away(as_, rider, rear, wheel_pair, layout, now):
    Stint.objects.bulk_create(
        Stint(
            wheel_pair=wheel_pair,
            layout=layout,
            started_at=now - timedelta(seconds=20 * number + 1200),
            ended_at=now - timedelta(seconds=20 * number + 1190),
            laps=1,
            distance_km=0.5,
            recorded_at=now,
        )
        for number in range(40)
    )
    client, address = as_(rider.person), reverse("tire", args=[rear.pk])

    some, everything = (client.get(one).content.decode() for one in (address, f"{address}?all"))

    assert "Show the 29 earlier stints too" in some
    assert some.count("<strong>None</strong>") == 12
    assert "earlier stints too" not in everything
    assert everything.count("<strong>None</strong>") == 40
