"""A draft asks the database as often for a full paddock as for a few riders."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.pressures.actions import draft_day, issue_bulletin, set_line_by_hand
from fleet.pressures.followed import lines_to_set
from fleet.pressures.queries import board_lines
from tests.paddock import full_paddock

AT = datetime(2026, 6, 12, 11, 0, tzinfo=UTC)
FIRST, LATER = 28, 35


def weather(day, hour):
    record_conditions(
        by=SERVICE, at=AT, day=day, holds_at=AT + timedelta(hours=hour), standing="forecast", source="made up",
        air_c=18.0 + hour, track_surface_c=30.0, barometer_kpa=101.2,
    )  # fmt: skip


def asked(call):
    """Return how many statements a call needs; rows are stored in batches, whose size is the database's own."""
    with CaptureQueriesContext(connection) as queries:
        call()
    return sum(not one["sql"].startswith("INSERT") for one in queries)


@pytest.mark.parametrize("riders", [9, 45])
def test_a_draft_and_the_next_one_after_a_bulletin_cost_the_same_for_any_number_of_riders(db, riders):
    day = full_paddock(riders, at=AT, on=date(2026, 6, 12)).day
    weather(day, 0)

    first = asked(lambda: draft_day(by=SERVICE, at=AT, day=day))
    bulletin = issue_bulletin(by=SERVICE, at=AT, day=day)
    weather(day, 1)
    weather(day, -1)
    day.refresh_from_db()
    later = asked(lambda: draft_day(by=SERVICE, at=AT + timedelta(minutes=50), day=day))

    # The exact numbers stand here once, so that a query a rider shows at one of the two sizes.
    assert (first, later) == (FIRST, LATER)
    assert bulletin.guidance.lines.filter(entry__isnull=False).count() == 2 * riders


def test_a_rider_reads_lines_by_hand_in_a_fixed_number_of_queries(db):
    """Two without a bulletin in force, one more for the gauge where it sets something by hand."""
    paddock = full_paddock(9, at=AT, on=date(2026, 6, 12))
    weather(paddock.day, 0)
    guidance = draft_day(by=SERVICE, at=AT, day=paddock.day)
    rider = paddock.pairs[0].bike.rider
    before = asked(lambda: lines_to_set(rider, paddock.day, at=AT))
    for line in board_lines(guidance):
        set_line_by_hand(by=paddock.director, at=AT, line=line, set_kpa=200.0, reason="for all")
    issue_bulletin(by=paddock.director, at=AT, day=paddock.day)

    assert before == 2
    assert asked(lambda: lines_to_set(rider, paddock.day, at=AT)) == 3
