"""A published tread-depth series, entered as readings: Tamhane and Dunlop 2000, Statistics and Data Analysis, table 10.1.

Groove depth in mils of one tire every 4,000 miles. Its wear slows down with distance, so a straight line drawn through
the first half would foretell an end too early; it must never foretell one too late.
"""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_spec
from fleet.inventory.actions import add_own_tire, fit_tire
from fleet.life.assessments import assess_changed
from fleet.life.models import Assessment
from fleet.running.actions import log_stint, record_tread

MILS = (394.33, 329.50, 291.00, 255.17, 229.33, 204.83, 179.00, 163.83, 150.33)
MM_PER_MIL = 0.0254
KM_PER_READING = 4000 * 1.609344
# The log-linear fit of all nine points reaches 62.5 mils (2/32 in) at 60,150 miles (95 % from 56,950).
END_KM = 60_150 * 1.609344
ROAD_WEIGHT = 0.1


@pytest.fixture
def touring_tire(line, rider, wheel_pair, rear_lot, front_lot, now):
    """A road tire 10 mm deep when new, on Robin's rear wheel for two years."""
    spec = add_spec(
        by=SERVICE,
        line=line,
        code="published-r",
        axle="rear",
        size="180/55 ZR17",
        new_depth_mm=MILS[0] * MM_PER_MIL,
        wear_limit_mm=62.5 * MM_PER_MIL,
    )
    start = now - timedelta(days=700)
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=spec)
    front = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_lot.spec)
    fit_tire(by=SERVICE, at=now, wheel_pair=wheel_pair, axle="rear", fitted_at=start, tire=tire)
    fit_tire(by=SERVICE, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=start, tire=front)
    return tire


def enter(tire, wheel_pair, readings, now):
    start = now - timedelta(days=699)
    for number, mils in enumerate(MILS[:readings]):
        moment = start + timedelta(days=60 * number)
        if number:
            for leg in range(4):
                log_stint(
                    by=SERVICE,
                    at=now,
                    wheel_pair=wheel_pair,
                    started_at=moment - timedelta(days=2 + leg),
                    ended_at=moment - timedelta(days=1 + leg, hours=1),
                    distance_km=KM_PER_READING / 4,
                )
        record_tread(by=SERVICE, at=now, tire=tire, zone="C", taken_at=moment, depth_mm=mils * MM_PER_MIL)


@pytest.mark.parametrize("readings", [3, 4, 5])
def test_forecasts_from_the_first_half_err_toward_less_life(touring_tire, wheel_pair, readings, now):
    enter(touring_tire, wheel_pair, readings, now)

    assess_changed(at=now)

    found = Assessment.objects.get(tire=touring_tire, is_newest=True)
    run_km = (readings - 1) * KM_PER_READING
    assert found.road_km == pytest.approx(run_km, rel=1e-4)
    for days in (found.remaining_days_50, found.remaining_days_90):
        foretold_km = run_km + days * found.provenance["day_km"] / ROAD_WEIGHT
        assert foretold_km < END_KM


def test_the_last_published_depth_is_what_the_assessment_shows(touring_tire, wheel_pair, now):
    enter(touring_tire, wheel_pair, len(MILS), now)

    assess_changed(at=now)

    found = Assessment.objects.get(tire=touring_tire, is_newest=True)
    assert found.depth_mm == pytest.approx(150.33 * MM_PER_MIL)
    assert found.readings == 9
