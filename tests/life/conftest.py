"""Days on track for Robin's set."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.running.actions import log_stint, record_tread


@pytest.fixture
def ride(wheel_pair, layout, fitted, now):
    """Log a stint of Robin's that began some minutes before now, at two kilometers a minute."""

    def log(minutes_ago=120, km=40.0, **details):
        start = now - timedelta(minutes=minutes_ago)
        return log_stint(
            by=SERVICE,
            at=now,
            wheel_pair=wheel_pair,
            layout=details.pop("layout", layout),
            started_at=start,
            ended_at=start + timedelta(minutes=km / 2),
            distance_km=km,
            **details,
        )

    return log


@pytest.fixture
def measure(now):
    """Note a tread depth of a tire."""

    def note(fitting, depth_mm, zone="C", minutes_ago=0):
        return record_tread(
            by=SERVICE,
            at=now,
            tire=fitting.tire,
            zone=zone,
            taken_at=now - timedelta(minutes=minutes_ago),
            depth_mm=depth_mm,
        )

    return note
