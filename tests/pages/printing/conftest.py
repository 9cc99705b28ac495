"""A ticket whose wheels carry a set."""

import pytest

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import take_wheels_in


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
