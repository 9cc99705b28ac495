"""One scene, asked many times: what a request changes is undone before the next."""

from datetime import timedelta

import pytest

from fleet.accounts.actions import add_organisation
from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import fit_tire, receive_lot
from tests.access.scene import build
from tests.conftest import somebody


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    """The system clock stands still at the cast's Friday."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def scene(request, clock, now, front_spec, rear_spec):
    names = "tarn breckside longfield rider_person rider wheel_pair front_spec layout"
    cast = {name: request.getfixturevalue(name) for name in names.split()}
    cast["fennock"] = add_organisation(
        by=SERVICE, code="fennock", name="Fennock Days", is_vendor=False, is_organiser=True
    )
    cast["bystander"] = somebody("Bystander Holm")

    def fit(pair, vendor, side):
        def lot(spec):
            return receive_lot(
                by=SERVICE, at=now, vendor=vendor, spec=spec, code=f"{side}{spec.code}", date_code="0826",
                quantity=4, received_at=now - timedelta(days=30), place="trailer",
            )  # fmt: skip

        hours_ago = now - timedelta(hours=4)
        return {
            spec.axle: fit_tire(
                by=SERVICE, at=now, wheel_pair=pair, axle=spec.axle, fitted_at=hours_ago, lot=lot(spec)
            )
            for spec in (front_spec, rear_spec)
        }

    cast["fit"] = fit
    return build(now, cast)
