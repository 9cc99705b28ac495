"""Stock moves and fittings with the usual words filled in."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import add_own_tire, fit_tire, move_stock, remove_tire


@pytest.fixture
def fit(wheel_pair, now):
    """Fit the front an hour ago unless told otherwise."""

    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "wheel_pair": wheel_pair,
            "axle": "front",
            "fitted_at": now - timedelta(hours=1),
        }
        return fit_tire(**(given | changes))

    return do


@pytest.fixture
def take_off(now):
    """Take a tire off half an hour ago unless told otherwise."""

    def do(fitting, **changes):
        given = {
            "by": SERVICE,
            "at": now,
            "removed_at": now - timedelta(minutes=30),
            "reason": "swap",
            "destination": "handed_back",
        }
        return remove_tire(fitting=fitting, **(given | changes))

    return do


@pytest.fixture
def move(now):
    """Write a line into a lot's ledger."""

    def do(lot, kind, quantity, **changes):
        given = {"by": SERVICE, "at": now, "place": "trailer", "moved_at": now - timedelta(days=1)}
        return move_stock(lot=lot, kind=kind, quantity=quantity, **(given | changes))

    return do


@pytest.fixture
def own_tire(rider, front_spec, now):
    """A front Robin bought elsewhere."""
    return add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="0826")
