"""What a day did to tires beside what was known the evening before: only what was read on both sides of it counts."""

from datetime import timedelta
from math import exp

import pytest
from scipy.stats import norm

from fleet.life.assessments import assess
from fleet.life.day_wear import Z_80, tire_days
from fleet.life.models import Assessment
from fleet.running.actions import log_stint, record_tread


@pytest.fixture
def rear(fitted):
    return fitted["rear"].tire


@pytest.fixture
def read(rear, rider_person, now):
    def done(depth_mm, minutes_ago, zone="C"):
        taken_at = now - timedelta(minutes=minutes_ago)
        return record_tread(
            by=rider_person, at=now, tire=rear, zone=zone, taken_at=taken_at, depth_mm=depth_mm
        )

    return done


@pytest.fixture
def known_before(read, rear, now):
    """The rear read in the morning, and assessed as on the evening before."""
    read(5.0, 200)
    assess(None, at=now)
    yesterday = now - timedelta(days=1)
    Assessment.objects.update(
        assessed_on=yesterday.date(), assessed_at=yesterday, is_newest=False, chance_next_day=0.7
    )
    return Assessment.objects.get(tire=rear)


def of(tire, day):
    return next(one for one in tire_days([tire.pk], on=day.date, track=day.layout.track.code))


def test_the_tread_lost_stands_beside_what_the_known_rate_makes_of_the_distance(
    known_before, read, rear, stint, day
):
    read(4.8, 20)

    found = of(rear, day)

    assert found.chance == 0.7
    assert found.worn_mm == pytest.approx(0.2)
    # Eight laps of 4.12 km at full effort on a track nobody learned about: 32.96 km of ordinary severity.
    rate, sigma = known_before.provenance["rate_mm_per_1000km"], known_before.provenance["rate_sigma"]
    middle = rate * 8 * 4.12 / 1000
    wide = exp(float(norm.ppf(0.9)) * sigma)
    assert found.expected_mm == pytest.approx((middle / wide, middle, middle * wide), rel=1e-3)


def test_the_factor_of_the_band_is_the_normal_ones():
    assert pytest.approx(norm.ppf(0.9), abs=5e-5) == Z_80


@pytest.mark.parametrize(
    ("depth_mm", "minutes_ago", "zone"),
    [(4.8, 40, "C"), (4.8, 20, "R1"), (4.8, 100, "C")],
    ids=["read during the ride", "another zone read", "read before only"],
)
def test_what_was_not_read_on_both_sides_tells_no_wear(
    known_before, read, rear, stint, day, depth_mm, minutes_ago, zone
):
    read(depth_mm, minutes_ago, zone)

    assert of(rear, day).worn_mm is None
    assert of(rear, day).chance == 0.7


def test_a_reading_after_the_next_ride_tells_nothing_of_the_one_before(
    known_before, read, rear, stint, wheel_pair, rider_person, day, now
):
    """A ride on the road after the day wears too."""
    log_stint(
        by=rider_person, at=now, wheel_pair=wheel_pair, started_at=now - timedelta(minutes=25),
        ended_at=now - timedelta(minutes=15), distance_km=10.0,
    )  # fmt: skip
    read(4.8, 5)

    assert of(rear, day).worn_mm is None


def test_a_tire_that_did_not_run_has_no_day(known_before, rear, day):
    assert tire_days([rear.pk], on=day.date, track=day.layout.track.code) == []


def test_what_was_assessed_on_the_day_itself_was_not_said_before(rear, stint, day, now):
    assess(None, at=now)

    assert of(rear, day).chance is None
