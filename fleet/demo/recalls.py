"""Two invented recalls: one that was lifted after its riders were told, and one of a wet tire that stands."""

from typing import Any, Final

from fleet.demo.scene import Scene, midnight, minutes
from fleet.demo.shop import date_code, lot_code
from fleet.demo.stints import Garage

STOPPED: Final = ("tarn", "rill-w-f", 0)
"""Vendor, spec and delivery of the lot that stays on the shelf."""


def add_recalls(scene: Scene, garage: Garage) -> None:
    """Add both notices, and for the lifted one what was read off a front of somebody's and that they were told."""
    evening = midnight(scene.day(-1)) + minutes(20 * 60)
    wheel = garage.wheels("dry")[0]
    if wheel.rubber is not None:
        code = _code_of(scene, wheel.rubber.label)
        told_at = evening + minutes(12)
        key = scene.fact(
            "recalls",
            recorded_at=evening,
            reference="H-31",
            issued_by=wheel.spec.line.maker,
            published_on=scene.day(-2),
            spec=wheel.spec.code,
            first_code=code,
            last_code=code,
            plant="9XC",
            what_to_do="Have the number on the sidewall read before you ride.",
            lifted_at=evening + minutes(90),
            lift_reason="The maker took it back: the plant was misprinted.",
        )
        scene.fact(
            "sidewalls",
            recorded_at=told_at,
            tire=wheel.rubber.label,
            read_for=garage.rider.vendor,
            identification=code,
            read_at=told_at,
        )
        scene.fact(
            "recall_contacts",
            recorded_at=told_at + minutes(1),
            notice=key,
            rider=garage.rider.code,
            told_for=garage.rider.vendor,
            way="in_person",
            told_at=told_at,
        )
    vendor, spec, number = STOPPED
    stopped = _lot(scene, vendor, lot_code(spec, number))
    scene.fact(
        "recalls",
        recorded_at=evening + minutes(30),
        reference="M-07",
        issued_by="Mirrin",
        published_on=scene.day(-1),
        spec=spec,
        first_code=stopped["date_code"],
        last_code=stopped["date_code"],
        what_to_do="Do not ride on it: your vendor exchanges the tire.",
        entered_for=vendor,
    )


def _code_of(scene: Scene, label: str) -> str:
    """Return the week and year a tire was made in, as its lot or its owner says."""
    row = next(one for one in scene.rows["fittings"] if one["tire"] == label)
    if row.get("lot"):
        return str(_lot(scene, row["vendor"], row["lot"])["date_code"])
    own = next(one for one in scene.rows["tires"] if one["label_code"] == label)
    return own["identification"] or date_code(scene.day(-200))


def _lot(scene: Scene, vendor: str, code: str) -> dict[str, Any]:
    return next(one for one in scene.rows["lots"] if (one["vendor"], one["code"]) == (vendor, code))
