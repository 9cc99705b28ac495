"""A vendor's day in figures: what was fitted, sold, taken back and disposed of, and what it comes to."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Final
from zoneinfo import ZoneInfo

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require
from fleet.catalogue.models import TireSpec
from fleet.inventory.models import Fitting, Lot, Removal, StockMovement

KINDS: Final = {
    "fitted": "Fitted from stock",
    "fitted_own": "Fitted, the rider's own",
    "sold": "Sold without fitting",
    "returned": "Came back",
    "written_off": "Written off",
    "scrapped": "Taken off to be scrapped",
}
GONE_FOR_GOOD: Final = ("written_off", "scrapped")


@dataclass(frozen=True)
class Line:
    """One tire, or several of one lot, and what became of them."""

    key: uuid.UUID
    at: datetime
    kind: str
    spec: TireSpec
    tires: int
    label: str
    lot: Lot | None
    rider: str
    by: str
    unit_price: Decimal | None
    note: str = ""

    @property
    def amount(self) -> Decimal | None:
        """Return what the vendor got for it, negative where it paid back; nothing where no price is known."""
        if self.unit_price is None:
            return None
        return self.unit_price * (-self.tires if self.kind == "returned" else self.tires)


@dataclass(frozen=True)
class DaySheet:
    """A day's lines in order, with how many tires went each way and the total of the lines that have a price."""

    vendor: Organisation
    on: date
    lines: list[Line]

    @property
    def counts(self) -> dict[str, int]:
        """Return the number of tires by what became of them, in the order of the sheet."""
        return {kind: sum(line.tires for line in self.lines if line.kind == kind) for kind in KINDS}

    @property
    def total(self) -> Decimal:
        """Return the sum of all amounts."""
        return sum((line.amount for line in self.lines if line.amount is not None), Decimal(0))

    @property
    def unpriced(self) -> int:
        """Return how many tires were sold or taken back without a price, which the total leaves out."""
        return sum(
            line.tires
            for line in self.lines
            if line.amount is None and line.kind in {"fitted", "sold", "returned"}
        )


def day_sheet(by: Actor, vendor: Organisation, *, on: date, zone: str) -> DaySheet:
    """Return a vendor's day by the clock of the place where the trailer stands."""
    require(by, Right.READ_STOCK, vendor)
    begins = datetime.combine(on, datetime.min.time(), ZoneInfo(zone))
    ends = datetime.combine(on + timedelta(days=1), datetime.min.time(), ZoneInfo(zone))
    lines = [
        *_fitted(vendor, begins, ends),
        *_moved(vendor, begins, ends),
        *_scrapped(vendor, begins, ends),
    ]
    return DaySheet(vendor, on, sorted(lines, key=lambda line: (line.at, str(line.key))))


def _fitted(vendor: Organisation, begins: datetime, ends: datetime) -> Iterator[Line]:
    rows = Fitting.objects.filter(
        vendor=vendor, fitted_at__gte=begins, fitted_at__lt=ends, voided_at__isnull=True
    ).select_related("tire__spec__line", "movement__lot", "wheel_pair__bike__rider", "recorded_by", "ticket")
    for row in rows:
        sold = row.movement
        yield Line(
            row.pk,
            row.fitted_at,
            "fitted" if sold else "fitted_own",
            row.tire.spec,
            1,
            row.tire.label_code,
            sold.lot if sold else None,
            row.wheel_pair.bike.rider.name,
            row.recorded_by.name if row.recorded_by else "",
            sold.unit_price if sold else None,
        )


def _moved(vendor: Organisation, begins: datetime, ends: datetime) -> Iterator[Line]:
    rows = StockMovement.objects.filter(
        lot__vendor=vendor,
        kind__in=("sold", "returned", "written_off"),
        moved_at__gte=begins,
        moved_at__lt=ends,
        voided_at__isnull=True,
    ).select_related("lot__spec__line", "recorded_by")
    for row in rows:
        yield Line(
            row.pk,
            row.moved_at,
            row.kind,
            row.lot.spec,
            abs(row.quantity),
            "",
            row.lot,
            "",
            row.recorded_by.name if row.recorded_by else "",
            row.unit_price,
            row.reason,
        )


def _scrapped(vendor: Organisation, begins: datetime, ends: datetime) -> Iterator[Line]:
    rows = Removal.objects.filter(
        vendor=vendor,
        destination=Removal.Destination.SCRAPPED,
        removed_at__gte=begins,
        removed_at__lt=ends,
        voided_at__isnull=True,
    ).select_related("fitting__tire__spec__line", "fitting__wheel_pair__bike__rider", "recorded_by")
    for row in rows:
        yield Line(
            row.pk,
            row.removed_at,
            "scrapped",
            row.fitting.tire.spec,
            1,
            row.fitting.tire.label_code,
            None,
            row.fitting.wheel_pair.bike.rider.name,
            row.recorded_by.name if row.recorded_by else "",
            None,
            row.get_reason_display(),
        )
