"""Bridge from everybody's hot pressures to how hot tires get."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np

from fleet.life.histories import sky_of
from fleet.life.learned import FACTORS, NOTHING, Learned, coded
from fleet.running.models import PressureReading
from fleet.science import heating
from fleet.science.practice import practice


def learned_heating(*, spreads: Mapping[str, Any] | None = None) -> Learned:
    """Fit how hot tires get to all standing hot readings; with ``spreads`` held, only the effects are solved for."""
    rows = _heating_rows()
    if not rows:
        return NOTHING
    columns = {name: [row[name] for row in rows] for name in rows[0]}
    levels, codes = coded({factor: columns[factor] for factor in FACTORS})
    observed = heating.settled_rise_c(
        **{
            name: np.array(columns[name], dtype=np.float64)
            for name in (
                "start_kpa",
                "tire_c",
                "hot_kpa",
                "minutes_since_pit_in",
                "minutes_on_track",
                "barometer_kpa",
                "air_c",
                "warmers_c",
            )
        }
    )
    pooled = heating.learn(
        observed,
        practice=columns["practice"],
        track_over_air_c=np.array(columns["track_over_air_c"]),
        effort=np.array(columns["effort"], dtype=np.float64),
        product=codes["product"],
        track=codes["track"],
        rider=codes["rider"],
        sds=spreads["sd"] if spreads else None,
        dofs=spreads["dof"] if spreads else None,
    )
    return Learned(pooled, levels)


def _heating_rows() -> list[dict[str, Any]]:
    """Return one row for each hot reading whose set pressure, air and weather are known, in a stable order."""
    hot = (
        PressureReading.objects.filter(
            moment__in=(PressureReading.Moment.IN, PressureReading.Moment.LATER),
            voided_at__isnull=True,
            doubt="",
            stint__day__isnull=False,
            stint__layout__isnull=False,
            stint__voided_at__isnull=True,
        )
        .order_by("taken_at", "id")
        .values(
            "tire_id",
            "pressure_kpa",
            "taken_at",
            "stint_id",
            "stint__day_id",
            "stint__started_at",
            "stint__ended_at",
            "stint__effort",
            "stint__warmers_c",
            "stint__layout__track__code",
            "tire__spec__code",
            "tire__spec__axle",
            "tire__spec__line__category",
            "tire__spec__line__carcass",
            "tire__owner__code",
        )
    )
    was_set = {
        (row["tire_id"], row["stint_id"]): row
        for row in PressureReading.objects.filter(
            moment=PressureReading.Moment.SET, voided_at__isnull=True, doubt="", stint__isnull=False
        )
        .order_by("taken_at", "id")
        .values("tire_id", "stint_id", "pressure_kpa", "tire_c")
    }
    found = list(hot)
    sky = sky_of({row["stint__day_id"] for row in found})
    rows = []
    for row in found:
        start = was_set.get((row["tire_id"], row["stint_id"]))
        weather = sky.at(row["stint__day_id"], row["stint__started_at"])
        if start is None or weather is None:
            continue
        warmers_c = row["stint__warmers_c"]
        standing_c = weather.air_c if warmers_c is None else warmers_c
        rows.append(
            {
                "start_kpa": start["pressure_kpa"],
                "tire_c": standing_c if start["tire_c"] is None else start["tire_c"],
                "hot_kpa": row["pressure_kpa"],
                "minutes_since_pit_in": _minutes(row["stint__ended_at"], row["taken_at"]),
                "minutes_on_track": _minutes(row["stint__started_at"], row["stint__ended_at"]),
                "barometer_kpa": weather.barometer_kpa,
                "air_c": weather.air_c,
                "warmers_c": np.nan if warmers_c is None else warmers_c,
                "track_over_air_c": weather.track_surface_c - weather.air_c,
                "effort": np.nan if row["stint__effort"] is None else row["stint__effort"],
                "practice": practice(
                    row["tire__spec__line__category"],
                    row["tire__spec__line__carcass"],
                    row["tire__spec__axle"],
                ),
                "product": row["tire__spec__code"],
                "track": row["stint__layout__track__code"],
                "rider": row["tire__owner__code"],
            }
        )
    return rows


def _minutes(start: datetime, end: datetime) -> float:
    return max((end - start).total_seconds() / 60, 0.0)
