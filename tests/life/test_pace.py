"""How far a rider goes on a riding day, in kilometers and in what they cost a tire."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.life.assessments import assess_changed
from fleet.life.models import Assessment
from fleet.life.pace import PRIOR_DAYS, USUAL_DAY_KM, paces_of
from fleet.running.actions import log_stint


@pytest.fixture
def ride_the_day(day, wheel_pair, fitted, now):
    """Log a hundred kilometers on the day at some effort."""

    def log(effort, minutes_ago=120):
        start = now - timedelta(minutes=minutes_ago)
        return log_stint(
            by=SERVICE,
            at=now,
            wheel_pair=wheel_pair,
            day=day,
            started_at=start,
            ended_at=start + timedelta(minutes=50),
            distance_km=100.0,
            effort=effort,
        )

    return log


def pace_of(rider, now, multipliers=None):
    return paces_of({rider.pk}, at=now, multipliers=multipliers or {})[rider.pk]


def test_a_rider_nobody_has_seen_is_taken_to_ride_the_usual_day(rider, now):
    pace = pace_of(rider, now)

    assert (pace.day_km, pace.day_severity_km, pace.days) == (USUAL_DAY_KM, USUAL_DAY_KM, 0)


def test_a_day_at_full_effort_costs_more_than_its_kilometers(rider, ride_the_day, now):
    # Wear grows with cornering force to a power of 2 to 4, Rubber Chem. Technol. 46:821 (1973); 0.85 is usual effort
    # (common practice, no published source).
    ride_the_day(effort=1.0)

    pace = pace_of(rider, now)

    drawn = PRIOR_DAYS * USUAL_DAY_KM
    assert pace.day_km == pytest.approx((drawn + 100.0) / (PRIOR_DAYS + 1))
    low, high = ((drawn + 100.0 / 0.85**power) / (PRIOR_DAYS + 1) for power in (2, 4))
    assert low < pace.day_severity_km < high


def test_a_day_on_a_rough_track_costs_more_than_its_kilometers(rider, ride_the_day, now):
    ride_the_day(effort=None)

    pace = pace_of(rider, now, multipliers={"marram-point": 1.5})

    assert pace.day_severity_km == pytest.approx((PRIOR_DAYS * USUAL_DAY_KM + 150.0) / (PRIOR_DAYS + 1))


def test_two_stints_of_a_day_are_one_day(rider, ride_the_day, now):
    ride_the_day(effort=0.8)
    ride_the_day(effort=0.9, minutes_ago=55)

    pace = pace_of(rider, now)

    assert (pace.days, pace.days_per_year) == (1, 1.0)
    assert pace.day_km == pytest.approx((PRIOR_DAYS * USUAL_DAY_KM + 200.0) / (PRIOR_DAYS + 1))


def test_days_left_count_the_days_as_hard_as_they_are_ridden(fitted, ride_the_day, rider, now):
    ride_the_day(effort=1.1)

    assess_changed(at=now)

    found = Assessment.objects.get(tire=fitted["rear"].tire, is_newest=True)
    pace = pace_of(rider, now)
    assert found.provenance["day_km"] == pytest.approx(pace.day_km, abs=0.05)
    assert found.provenance["day_severity_km"] == pytest.approx(pace.day_severity_km, abs=0.05)
    # From new at practice's rate the tread's median is left over severity km, never more days than those hold.
    life_km = 1000 * (fitted["rear"].tire.spec.new_depth_mm - 0.8) / found.provenance["rate_mm_per_1000km"]
    left_km = life_km - found.provenance["severity_km"]
    assert found.remaining_days_50 <= 1.02 * left_km / pace.day_severity_km
