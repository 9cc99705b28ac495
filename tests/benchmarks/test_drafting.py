"""How long a draft for a full paddock takes, in CPU seconds of one core; by hand, see DEVELOPERS.md.

Floor: one ``SELECT`` of every row the draft reads, in plain ``values_list``.
"""

import time
from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import correct_day, record_conditions
from fleet.events.models import Conditions, DayParts, Entry, Slot
from fleet.inventory.models import Fitting, Tire
from fleet.pressures.actions import issue_bulletin
from fleet.pressures.guidance import draft
from fleet.pressures.models import Guidance
from tests.paddock import full_paddock

AT = datetime(2026, 6, 12, 6, 0, tzinfo=UTC)
RIDERS, HOURS = 300, 12
GOAL_S = 3.0


@pytest.fixture
def day(db):
    """A day on which every group rides in each of twelve hours, each hour with its own forecast."""
    found = full_paddock(RIDERS, at=AT, on=date(2026, 6, 12)).day
    found.slots.all().delete()
    for hour in range(HOURS):
        begins = AT + timedelta(hours=hour + 1)
        record_conditions(
            by=SERVICE, at=AT, day=found, holds_at=begins + timedelta(minutes=30), standing="forecast", source="made up",
            air_c=14.0 + hour, track_surface_c=22.0 + 2 * hour, barometer_kpa=101.2,
        )  # fmt: skip
        for place, group in enumerate(found.event.groups.all()):
            starts_at = begins + timedelta(minutes=20 * place)
            Slot.objects.create(
                day=found, group=group, starts_at=starts_at, ends_at=starts_at + timedelta(minutes=20)
            )
    return correct_day(by=SERVICE, day=found, parts=DayParts.HOURS)


def floor_s():
    """Read every row a draft reads, without doing anything with it."""
    started = time.process_time()
    for model in (Entry, Tire, Fitting, Conditions):
        list(model.objects.values_list())
    return time.process_time() - started


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("is_issued", [False, True], ids=["the first", "beside a bulletin"])
def test_draft_300_riders_in_each_of_12_hours(day, benchmark, is_issued):
    if is_issued:
        draft(day, at=AT)
        issue_bulletin(by=SERVICE, at=AT, day=day)

    def outdate():
        Guidance.objects.filter(day=day, is_newest=True).update(fingerprint="changed")

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
    assert own.count() == 2 * RIDERS * HOURS
    assert benchmark.stats["min"] < GOAL_S
