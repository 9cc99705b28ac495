"""The cast of the trials, on the day the tests run."""

from tests.trials.conftest import (  # noqa: F401 -- fixtures
    alder,
    candidate,
    chassis,
    measured,
    plan,
    ride,
    runs,
    second_pair,
    shared,
    trial,
)
