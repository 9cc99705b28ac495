"""Reads of what tires gave: wear and money for a day on track, beside the rider's other sets and what others got."""

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from statistics import median, quantiles
from typing import Final

from django.db.models import QuerySet

from fleet.garage.models import Rider
from fleet.inventory.models import Fitting, StockMovement, Tire
from fleet.inventory.ownership import done
from fleet.life.models import Assessment
from fleet.running.models import Stint

FEWEST_OTHERS: Final = 5  # fewer could be told apart by whoever knows who rides there


@dataclass(frozen=True)
class Yield:
    """What one tire gave so far; nothing where it is not known.

    ``days`` are those run, and with ``is_used_up`` false those left by the median too, so that money is spread over all.
    """

    tire: Tire
    days_run: int
    days: float
    laps: int
    worn_mm: float | None
    price: Decimal | None
    currency: str

    @property
    def worn_mm_per_day(self) -> float | None:
        """Return the tread worn on a day on track at the zone that wears first."""
        return self.worn_mm / self.days_run if self.worn_mm is not None and self.days_run else None

    @property
    def worn_mm_per_lap(self) -> float | None:
        """Return the tread worn in a lap at the zone that wears first."""
        return self.worn_mm / self.laps if self.worn_mm is not None and self.laps else None

    @property
    def cost_per_day(self) -> Decimal | None:
        """Return what a day on track costs, over the days run and those left."""
        if self.price is None or self.days <= 0:
            return None
        return (self.price / Decimal(str(self.days))).quantize(Decimal("0.01"))


@dataclass(frozen=True)
class Others:
    """What other riders got from the same spec: how many they are, and the middle half of their medians."""

    riders: int
    worn_mm_per_day: tuple[float, float, float]


@dataclass(frozen=True)
class OthersCost:
    """What a day on track cost other riders on the same spec: how many they are, and the middle half of their medians."""

    riders: int
    per_day: tuple[Decimal, Decimal, Decimal]
    currency: str


def yields_of(rider: Rider, axle: str) -> list[Yield]:
    """Return what a rider's tires of one axle gave, the newest first: four queries, however many tires."""
    rows = list(
        Assessment.objects.filter(is_newest=True, tire__owner=rider, tire__spec__axle=axle, days_run__gte=1)
        .select_related("tire__spec__line")
        .order_by("-assessed_on", "-days_run", "id")
    )
    tires = [row.tire_id for row in rows]
    fittings = list(
        Fitting.objects.filter(tire__in=tires, voided_at__isnull=True).values_list(
            "tire_id", "wheel_pair_id", "fitted_at", "removed_at"
        )
    )
    laps, prices = _laps(fittings), _prices(rider, tires)
    mounted = {tire for tire, _, _, removed_at in fittings if removed_at is None}
    found = []
    for row in rows:
        left = row.remaining_days_50 if row.tire_id in mounted else 0.0
        price, currency = prices.get(row.tire_id, (None, ""))
        worn_mm = None if row.depth_mm is None else max(row.tire.spec.new_depth_mm - row.depth_mm, 0.0)
        found.append(
            Yield(row.tire, row.days_run, row.days_run + left, laps[row.tire_id], worn_mm, price, currency)
        )
    return found


def others_on(tire: Tire) -> Others | None:
    """Return what other riders got from a tire's spec, or nothing where too few did for that to stay without names."""
    rows = Assessment.objects.filter(
        is_newest=True, tire__spec=tire.spec_id, days_run__gte=1, depth_mm__isnull=False
    ).exclude(tire__owner=tire.owner_id)
    by_rider: dict[uuid.UUID, list[float]] = defaultdict(list)
    for owner, new_mm, depth_mm, days in rows.order_by("tire__owner", "id").values_list(
        "tire__owner", "tire__spec__new_depth_mm", "depth_mm", "days_run"
    ):
        by_rider[owner].append(max(new_mm - (depth_mm or 0.0), 0.0) / days)
    each = sorted(median(values) for values in by_rider.values())
    if len(each) < FEWEST_OTHERS:
        return None
    low, middle, high = quantiles(each, n=4, method="inclusive")
    return Others(len(each), (low, middle, high))


def others_cost(tire: Tire) -> OthersCost | None:
    """Return what a day cost other riders on a tire's spec, in the currency most of them paid in; three queries.

    Nothing where too few paid in one currency. A tire that changed hands is left out: nobody rode all it was paid for.
    """
    rows = list(
        Assessment.objects.filter(is_newest=True, tire__spec=tire.spec_id, days_run__gte=1)
        .exclude(tire__owner=tire.owner_id)
        .exclude(tire__in=done().values("tire"))
        .order_by("tire__owner", "id")
        .values_list("tire", "tire__owner", "days_run", "remaining_days_50")
    )
    tires = [row[0] for row in rows]
    mounted = set(
        Fitting.objects.filter(tire__in=tires, removed_at=None, voided_at=None).values_list("tire", flat=True)
    )
    prices = _prices_of(StockMovement.objects.filter(fitting__tire__in=tires))
    paid: dict[str, dict[uuid.UUID, list[float]]] = defaultdict(lambda: defaultdict(list))
    for pk, owner, run, left in rows:
        if pk in prices:
            price, currency = prices[pk]
            paid[currency][owner].append(float(price) / (run + (left if pk in mounted else 0.0)))
    currency, by_rider = max(paid.items(), key=lambda one: (len(one[1]), one[0]), default=("", {}))
    if len(by_rider) < FEWEST_OTHERS:
        return None
    low, middle, high = quantiles(
        sorted(median(values) for values in by_rider.values()), n=4, method="inclusive"
    )
    return OthersCost(len(by_rider), (_money(low), _money(middle), _money(high)), currency)


def _money(amount: float) -> Decimal:
    return Decimal(str(amount)).quantize(Decimal("0.01"))


def _laps(fittings: Sequence[tuple[uuid.UUID, uuid.UUID, datetime, datetime | None]]) -> dict[uuid.UUID, int]:
    """Return the laps each tire ran."""
    found: dict[uuid.UUID, int] = defaultdict(int)
    rows = list(
        Stint.objects.filter(
            wheel_pair__in={pair for _, pair, _, _ in fittings}, voided_at__isnull=True, laps__isnull=False
        ).values_list("wheel_pair_id", "started_at", "laps")
    )
    for tire, pair, fitted_at, removed_at in fittings:
        found[tire] += sum(
            laps
            for wheels, started_at, laps in rows
            if wheels == pair and fitted_at <= started_at and (removed_at is None or started_at < removed_at)
        )
    return found


def _prices(rider: Rider, tires: Sequence[uuid.UUID]) -> dict[uuid.UUID, tuple[Decimal, str]]:
    """Return what a rider paid for each tire that a vendor fitted from stock and noted a price for; not what others paid."""
    return _prices_of(
        StockMovement.objects.filter(fitting__tire__in=tires, fitting__wheel_pair__bike__rider=rider)
    )


def _prices_of(sales: QuerySet[StockMovement]) -> dict[uuid.UUID, tuple[Decimal, str]]:
    standing = sales.filter(fitting__voided_at__isnull=True, voided_at__isnull=True, unit_price__isnull=False)
    return {
        tire: (price, currency)
        for tire, price, currency in standing.order_by("moved_at", "id").values_list(
            "fitting__tire_id", "unit_price", "lot__vendor__currency"
        )
        if price is not None
    }
