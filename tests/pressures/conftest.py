"""A hot Friday with everything a draft needs."""

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions


@pytest.fixture
def hot_day(day, entry, slot, fitted, now):
    """Friday at 39 degrees, Robin entered on a soft-carcass track-day set."""
    return record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now,
        standing="observed",
        source="thermometer in the shade",
        air_c=39.0,
        barometer_kpa=101.1,
        track_surface_c=55.0,
    ).day
