"""Stints and readings with the usual words filled in."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.running.actions import log_stint, record_pressure, record_tread


@pytest.fixture
def log(rider_person, wheel_pair, fitted, now):
    """Log a road ride of 30 km that ended ten minutes ago unless told otherwise."""

    def do(**changes):
        given = {
            "by": rider_person,
            "at": now,
            "wheel_pair": wheel_pair,
            "started_at": now - timedelta(minutes=28),
            "ended_at": now - timedelta(minutes=10),
            "distance_km": 30.0,
        }
        return log_stint(**(given | changes))

    return do


@pytest.fixture
def read_pressure(fitted, now):
    """Read the front's pressure now unless told otherwise."""

    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "tire": fitted["front"].tire,
            "moment": "set",
            "taken_at": now,
            "pressure_kpa": 205.0,
        }
        return record_pressure(**(given | changes))

    return do


@pytest.fixture
def read_tread(fitted, now):
    """Read the front's depth in the centre now unless told otherwise."""

    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "tire": fitted["front"].tire,
            "zone": "C",
            "taken_at": now,
            "depth_mm": 4.2,
        }
        return record_tread(**(given | changes))

    return do
