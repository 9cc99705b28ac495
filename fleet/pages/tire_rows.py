"""The rows of a tire's page: its stints with pressures, and its tread readings over what it had run."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, TypeAlias

from fleet.accounts.models import Person
from fleet.inventory.models import Fitting, Tire
from fleet.pages.charts import Series
from fleet.pages.units import depth_unit, distance_unit
from fleet.running.models import Stint, TreadReading, Zone
from fleet.running.queries import pressures_for, stints_for

Runs: TypeAlias = Sequence[tuple[datetime, float]]
"""When each run ended, and how far it went, in km."""


def stints_on(by: Person, fittings: list[Fitting]) -> list[Stint]:
    """Return the stints somebody may see that ran while a tire was fitted, the oldest first."""
    rows = stints_for(by).filter(
        wheel_pair__in={one.wheel_pair_id for one in fittings}, voided_at__isnull=True
    )
    return [
        stint
        for stint in rows.order_by("started_at")
        if any(
            one.wheel_pair_id == stint.wheel_pair_id
            and one.fitted_at <= stint.started_at
            and (one.removed_at is None or stint.ended_at <= one.removed_at)
            for one in fittings
        )
    ]


def with_pressures(by: Person, row: Tire, stints: list[Stint], at: datetime) -> list[dict[str, Any]]:
    """Return stints with the pressures of one tire, the newest first."""
    read: dict[Any, dict[str, Any]] = defaultdict(dict)
    for reading in pressures_for(by, on=at.date()).filter(tire=row, stint__in=stints, voided_at__isnull=True):
        read[reading.stint_id]["cold" if reading.moment == "set" else "hot"] = reading
    return [{"stint": stint, **read[stint.pk]} for stint in reversed(stints)]


def _run_before(ends: Runs) -> Callable[[datetime], float]:
    return lambda moment: sum(km for ended_at, km in ends if ended_at <= moment)


def tread_told(by: Person, row: Tire, readings: list[TreadReading], ends: Runs) -> dict[str, Any]:
    """Return the tread of a tire by zone, as a drawing and as a table, over what it had run by then."""
    run_km, depth, distance = _run_before(ends), depth_unit(by), distance_unit(by)
    points: dict[str, list[tuple[float, float]]] = {}
    rows: list[dict[str, Any]] = []
    for reading in readings:
        km = run_km(reading.taken_at)
        if not rows or rows[-1]["km"] != km or reading.zone in rows[-1]["by_zone"]:
            rows.append({"taken_at": reading.taken_at, "km": km, "by_zone": {}})
        rows[-1]["by_zone"][reading.zone] = reading
        if not reading.doubt:
            points.setdefault(reading.zone, []).append((distance.shown(km), depth.shown(reading.depth_mm)))
    zones = [zone for zone in Zone.values if zone in {reading.zone for reading in readings}]
    return {
        "zones": [(Zone(zone).label, place) for place, zone in enumerate(zones)],
        "series": [Series(zone, points.get(zone, [])) for zone in zones],
        "tread_rows": [
            line | {"cells": [(Zone(zone).label, line["by_zone"].get(zone)) for zone in zones]}
            for line in rows
        ],
        "limit": depth.shown(row.spec.wear_limit_mm),
        "new": depth.shown(row.spec.new_depth_mm),
        "depth_sign": depth.sign,
        "distance_sign": distance.sign,
    }
