"""How long a draft for a full paddock takes, in CPU seconds of one core; by hand, see DEVELOPERS.md.

Floor: one ``SELECT`` of every row the draft reads, in plain ``values_list``.
"""

import time
from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.events.models import Conditions, Entry
from fleet.inventory.models import Fitting, Tire
from fleet.pressures.guidance import draft
from fleet.pressures.models import Guidance
from tests.paddock import full_paddock

AT = datetime(2026, 6, 12, 11, 0, tzinfo=UTC)
RIDERS, HOURS = 300, 12
GOAL_S = 3.0


@pytest.fixture
def day(db):
    found = full_paddock(RIDERS, at=AT, on=date(2026, 6, 12)).day
    for part in range(HOURS):
        record_conditions(
            by=SERVICE, at=AT, day=found, holds_at=AT + timedelta(minutes=45 * (part - 4)), standing="forecast", source="made up",
            air_c=14.0 + part, track_surface_c=22.0 + 2 * part, barometer_kpa=101.2,
        )  # fmt: skip
    return found


def floor_s():
    """Read every row a draft reads, without doing anything with it."""
    started = time.process_time()
    for model in (Entry, Tire, Fitting, Conditions):
        list(model.objects.values_list())
    return time.process_time() - started


@pytest.mark.benchmark(timer=time.process_time)
def test_draft_300_riders_under_a_forecast_of_12_hours(day, benchmark):
    def outdate():
        Guidance.objects.filter(day=day).update(fingerprint="changed")

    benchmark.extra_info["floor_s"] = floor_s()

    found = benchmark.pedantic(
        draft,
        (day,),
        {"at": AT},
        setup=outdate,
        rounds=3,
        warmup_rounds=1,
    )

    benchmark.extra_info["times_floor"] = benchmark.stats["min"] / benchmark.extra_info["floor_s"]
    own = found.lines.filter(entry__isnull=False)
    assert own.count() == 2 * RIDERS
    assert benchmark.stats["min"] < GOAL_S
