"""Writing down what was measured on one set of a test, as readings of its tires."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleet.accounts.policy import Actor
from fleet.catalogue.models import AXLES
from fleet.errors import Conflict, Invalid
from fleet.records import once
from fleet.running.actions import record_contour, record_shape
from fleet.running.models import ShapeReading
from fleet.trials.models import TireTest
from fleet.trials.queries import require_opened, require_tester, sets_of

Quantity = ShapeReading.Quantity


@dataclass(frozen=True)
class AxleLengths:
    """What was measured at one end of the bike; what was not is None or empty."""

    gap_mm: float | None = None
    roll_out_mm: float | None = None
    ride_height_mm: float | None = None
    x_mm: tuple[float, ...] = ()
    z_mm: tuple[float, ...] = ()

    @property
    def lengths(self) -> dict[str, float]:
        """Return the lengths that were measured, by quantity."""
        found = {
            Quantity.GAP: self.gap_mm,
            Quantity.ROLL_OUT: self.roll_out_mm,
            Quantity.RIDE_HEIGHT: self.ride_height_mm,
        }
        return {str(quantity): mm for quantity, mm in found.items() if mm is not None}


@once
@transaction.atomic
def measure(
    *,
    by: Actor,
    at: datetime,
    test: TireTest,
    side: str,
    taken_at: datetime,
    measured: Mapping[str, AxleLengths],
    key: uuid.UUID | None = None,
) -> int:
    """Store what was measured on one set, each length a reading of its own tire; all of it or nothing.

    Returns how many readings there are; sent twice under one key they are stored once.
    """
    require_tester(by, test.organisation)
    require_opened(by, test)
    fittings = sets_of(test)[side].fittings
    base = key or uuid.uuid4()
    count = 0
    for axle in AXLES:
        given = measured.get(axle, AxleLengths())
        if (given.lengths or given.x_mm) and axle not in fittings:
            raise Conflict(
                f"No {axle} tire of the {side} set is fitted yet on {test.pair(side)}: log its fitting first.",
            )
        for quantity, length_mm in given.lengths.items():
            record_shape(
                by=by, at=at, tire=fittings[axle].tire, quantity=quantity, taken_at=taken_at, length_mm=length_mm,
                vendor=test.organisation, key=uuid.uuid5(base, f"{axle} {quantity}"),
            )  # fmt: skip
            count += 1
        if given.x_mm or given.z_mm:
            record_contour(
                by=by, at=at, tire=fittings[axle].tire, taken_at=taken_at, x_mm=list(given.x_mm),
                z_mm=list(given.z_mm), vendor=test.organisation, key=uuid.uuid5(base, f"{axle} contour"),
            )  # fmt: skip
            count += 1
    if not count:
        raise Invalid("Nothing was measured: fill in at least one length or outline.")
    return count
