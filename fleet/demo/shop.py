"""The vendors' side: lots and their ledger, tires fitted from them or brought along, and taken off when worn."""

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Final

from fleet.demo.cast import Entrant
from fleet.demo.products import BY_CODE, SPECS, Spec
from fleet.demo.scene import Scene, midnight, minutes
from fleet.demo.truth import Rubber, Truth

DELIVERED_DAYS: Final = (-131, -63)
VENDORS: Final = ("tarn", "breckside")
MARKUP: Final = {"tarn": 1.32, "breckside": 1.38}
LOW_AT: Final = 3
SOLD_OUT: Final = ("tarn", "lowmoor-td-r190", 1)


@dataclass
class Wheel:
    """One axle of a wheel pair with the tire on it."""

    pair: str
    axle: str
    spec: Spec
    rubber: Rubber | None = None
    fitting: uuid.UUID | None = None
    fitted_at: datetime | None = None


@dataclass
class Shop:
    """Two vendors' stock, counted as it is used, and everything they fit."""

    scene: Scene
    truth: Truth
    used: dict[tuple[str, str, int], int] = field(default_factory=lambda: defaultdict(int))

    def fit(self, wheel: Wheel, vendor: str, fitted_at: datetime) -> None:
        """Fit a new tire from the vendor's lot that is there at the time."""
        number = 1 if fitted_at >= midnight(self.scene.day(DELIVERED_DAYS[1] + 2)) else 0
        self.used[vendor, wheel.spec.code, number] += 1
        label = self.scene.label()
        self._put_on(
            wheel,
            label,
            fitted_at,
            vendor=vendor,
            lot=lot_code(wheel.spec.code, number),
            place="trailer",
            unit_price=price_of(wheel.spec, vendor),
        )

    def fit_own(self, wheel: Wheel, rider: Entrant, fitted_at: datetime, made_on: date | None) -> None:
        """Fit a tire the rider bought elsewhere."""
        label = self.scene.label()
        self.scene.add(
            "tires",
            label_code=label,
            rider=rider.code,
            spec=wheel.spec.code,
            identification=date_code(made_on) if made_on else "",
        )
        self._put_on(wheel, label, fitted_at)

    def take_off(
        self, wheel: Wheel, removed_at: datetime, reason: str, destination: str, vendor: str | None = None
    ) -> None:
        """Take a tire off its wheel."""
        self.scene.fact(
            "removals",
            recorded_at=removed_at + minutes(1),
            fitting=wheel.fitting,
            removed_at=removed_at,
            reason=reason,
            destination=destination,
            vendor=vendor,
        )
        wheel.rubber = wheel.fitting = None

    def write_ledger(self) -> None:
        """Add the lots with what was used of them and what is left, and the other lines of their ledgers."""
        scene = self.scene
        for vendor in VENDORS:
            for spec in SPECS:
                scene.add(
                    "listings", vendor=vendor, spec=spec.code, price=price_of(spec, vendor), low_at=LOW_AT
                )
                for number, offset in enumerate(DELIVERED_DAYS):
                    used = self.used[vendor, spec.code, number]
                    left = 0 if (vendor, spec.code, number) == SOLD_OUT else int(scene.rng.integers(2, 9))
                    received_at = midnight(scene.day(offset)) + minutes(scene.between(8, 11) * 60)
                    made_on = scene.day(offset - int(scene.rng.integers(35, 190)))
                    self._write_lot(vendor, spec, number, used, left, received_at, made_on)

    def _write_lot(
        self,
        vendor: str,
        spec: Spec,
        number: int,
        used: int,
        left: int,
        received_at: datetime,
        made_on: date,
    ) -> None:
        if used + left == 0:
            left = 1
        scene, code = self.scene, lot_code(spec.code, number)
        scene.fact(
            "lots",
            recorded_at=received_at + minutes(12),
            vendor=vendor,
            code=code,
            spec=spec.code,
            date_code=date_code(made_on),
            unit_cost=round(spec.cost * scene.between(0.94, 1.05), 2),
            quantity=used + left,
            received_at=received_at,
            place="store",
        )
        on_trailer = used + left // 2
        if on_trailer:
            loaded_at = received_at + timedelta(hours=6)
            for place, sign in (("store", -1), ("trailer", 1)):
                self._move(vendor, code, "loaded", place, sign * on_trailer, loaded_at)
        if left > 5:  # noqa: PLR2004 -- enough to lose one
            kind, reason = scene.pick(
                (
                    ("counted", "one fewer than the list said"),
                    ("written_off", "sidewall damaged on the rack"),
                    ("sold", ""),
                )
            )
            self._move(vendor, code, kind, "store", -1, received_at + timedelta(days=20), reason)

    def _move(
        self,
        vendor: str,
        lot: str,
        kind: str,
        place: str,
        quantity: int,
        moved_at: datetime,
        reason: str = "",
    ) -> None:
        self.scene.fact(
            "movements",
            recorded_at=moved_at + minutes(2),
            vendor=vendor,
            lot=lot,
            kind=kind,
            place=place,
            quantity=quantity,
            moved_at=moved_at,
            reason=reason,
        )

    def _put_on(self, wheel: Wheel, label: str, fitted_at: datetime, **origin: str | int) -> None:
        wheel.rubber = self.truth.new_rubber(label, wheel.spec)
        wheel.fitted_at = fitted_at
        wheel.fitting = self.scene.fact(
            "fittings",
            recorded_at=fitted_at + minutes(1.5),
            wheel_pair=wheel.pair,
            axle=wheel.axle,
            fitted_at=fitted_at,
            tire=label,
            **origin,
        )


def wheels_of(rider: Entrant, name: str) -> list[Wheel]:
    """Return the two empty wheels of a rider's pair."""
    front, rear = ("rill-w-f", "rill-w-r190") if name == "wet" else (rider.front, rider.rear)
    pair = rider.pair(name)
    return [Wheel(pair, "front", BY_CODE[front]), Wheel(pair, "rear", BY_CODE[rear])]


def price_of(spec: Spec, vendor: str) -> int:
    """Return what a vendor asks for one tire."""
    return round(spec.cost * MARKUP[vendor])


def lot_code(spec: str, number: int) -> str:
    """Return the code of a vendor's first or second delivery of a spec."""
    return f"{spec}-{'ab'[number]}"


def date_code(day: date) -> str:
    """Return the four digits of the week and year of a day."""
    year, week, _ = day.isocalendar()
    return f"{week:02d}{year % 100:02d}"


def fitted(wheels: Sequence[Wheel]) -> list[tuple[Wheel, Rubber]]:
    """Return the wheels that have a tire, with it."""
    return [(wheel, wheel.rubber) for wheel in wheels if wheel.rubber is not None]
