"""How long it takes to find what a recall touches among 200,000 tires; by hand, see DEVELOPERS.md.

Floor: every tire of the notice's spec read in plain ``values_list``, which is what the index leads to. Picking out those of
its weeks, whose sidewalls say nothing else, costs no more than that, and the plan of the database names the index.
"""

import time
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec
from fleet.garage.actions import register_rider
from fleet.inventory.actions import enter_recall
from fleet.inventory.models import Tire
from fleet.inventory.recalls import tires_touched

AT = datetime(2026, 6, 12, 15, 0, tzinfo=UTC)
TIRES, SPECS = 200_000, 40
GOAL = 1.0


@pytest.fixture
def notice(db):
    """A notice of three weeks of one of forty specs."""
    line = add_line(by=SERVICE, maker="Mirrin", name="Lowmoor TD", category="track_day")
    specs = [
        add_spec(
            by=SERVICE,
            line=line,
            code=f"spec-{number}",
            axle="rear",
            size="190/55 ZR17 M/C (75W)",
            compound=f"C{number}",
            new_depth_mm=6.0,
            wear_limit_mm=1.0,
        )
        for number in range(SPECS)
    ]
    rider = register_rider(by=SERVICE, code="r-1", name="Robin Vale")
    Tire.objects.bulk_create(
        [
            Tire(
                spec=specs[number % SPECS],
                owner=rider,
                label_code=f"T{number}",
                made_on=date(2022, 1, 2) + timedelta(weeks=number // SPECS % 220),
            )
            for number in range(TIRES)
        ],
        batch_size=5000,
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return enter_recall(
        by=SERVICE,
        at=AT,
        reference="W-14",
        issued_by="Mirrin",
        published_on=AT.date(),
        spec=specs[0],
        first_code="0624",
        last_code="0824",
        what_to_do="Bring it to your vendor.",
    )


def cpu_s(read):
    """Return the least CPU time of some rounds."""
    spent = []
    for _ in range(20):
        started = time.process_time()
        read()
        spent.append(time.process_time() - started)
    return min(spent)


def test_find_what_a_notice_touches(notice, benchmark):
    found = tires_touched(notice)
    assert 0 < found.count() < TIRES / SPECS
    assert "inventory_tire_weeks" in found.explain()
    floor_s = cpu_s(lambda: list(Tire.objects.filter(spec=notice.spec).values_list()))
    benchmark.extra_info["floor_s"] = floor_s

    benchmark.pedantic(lambda: list(found.all()), rounds=20, warmup_rounds=2)

    benchmark.extra_info["times_floor"] = cpu_s(lambda: list(found.all())) / floor_s
    assert benchmark.extra_info["times_floor"] <= GOAL
