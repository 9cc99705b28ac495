"""Reservations for tomorrow: asked for, confirmed, set aside, and one that was taken back."""

from datetime import timedelta
from typing import Any, Final

from fleet.demo.scene import Scene, midnight, minutes
from fleet.demo.shop import wheels_of
from fleet.demo.stints import Garage

RESERVING: Final = (0, 2, 6, 8, 11, 17, 25, 33)
"""Who reserves a rear, and every second of them the front too; the first is the rider of the main job."""
EACH: Final = 5  # minutes from one to the next


def add_reservations(scene: Scene, garages: list[Garage]) -> None:
    """Add what these riders reserved at their own vendor yesterday evening, and how far each has come."""
    evening = midnight(scene.day(-1)) + timedelta(hours=20)
    for place, index in enumerate(RESERVING):
        rider = garages[index].rider
        for wheel in wheels_of(rider, "dry")[1 - place % 2 :]:
            asked_at = evening + minutes(EACH * place)
            kept_at = asked_at + minutes(30) if place % 3 != 1 else None
            lies_there = _on_trailer(scene, rider.vendor, wheel.spec.code) > 0
            is_ready = kept_at is not None and place % 3 == 0 and lies_there
            is_back = place == len(RESERVING) - 1
            scene.fact(
                "reservations",
                recorded_at=asked_at,
                rider=rider.code,
                vendor=rider.vendor,
                spec=wheel.spec.code,
                quantity=1,
                wanted_on=scene.day(1),
                kept_at=kept_at,
                ready_at=kept_at + minutes(60) if kept_at and is_ready else None,
                withdrawn_at=asked_at + minutes(45) if is_back else None,
            )


def _on_trailer(scene: Scene, vendor: str, spec: str) -> int:
    """Return how many tires of a spec lie on a vendor's trailer, from the rows written so far."""
    lots = {row["code"] for row in scene.rows["lots"] if (row["vendor"], row["spec"]) == (vendor, spec)}

    def there(row: dict[str, Any]) -> bool:
        return row["vendor"] == vendor and row.get("lot") in lots and row.get("place") == "trailer"

    moved = sum(int(row["quantity"]) for row in scene.rows["movements"] if there(row))
    return moved - sum(1 for row in scene.rows["fittings"] if row.get("vendor") and there(row))
