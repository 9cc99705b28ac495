"""Bridge from everybody's hot pressures to how hot tires get."""

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np
from django.db.models import F, OuterRef, Q, Subquery

from fleet.life.histories import Weather, sky_of
from fleet.life.learned import FACTORS, NOTHING, Learned, coded
from fleet.running.models import PressureReading, Stint
from fleet.science import heating
from fleet.science.observed_rise import settled_rise_c
from fleet.science.practice import TIRE_TEMPERATURE_SD_C, Practice, practice
from fleet.science.standing import standing_tire


def learned_heating(*, spreads: Mapping[str, Any] | None = None) -> Learned:
    """Fit how hot tires get to all standing hot readings; with ``spreads`` held, only the effects are solved for."""
    rows = _heating_rows()
    if not rows:
        return NOTHING
    columns = {name: [row[name] for row in rows] for name in rows[0]}
    levels, codes = coded({factor: columns[factor] for factor in FACTORS})
    observed = settled_rise_c(
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
                "tire_sd_c",
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
    found, was_set = _hot_readings(), _set_readings()
    sky = sky_of({row["stint__day_id"] for row in found})
    rows = []
    for row in found:
        start = was_set.get((row["tire_id"], row["stint_id"]))
        weather = sky.at(row["stint__day_id"], row["stint__started_at"])
        if start is not None and weather is not None:
            rows.append(_row(row, start, weather))
    return rows


def _hot_readings() -> list[dict[str, Any]]:
    rows = (
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
            "stint__wheel_pair__bike__rider__code",
        )
    )
    return list(rows)


def _set_readings() -> dict[tuple[uuid.UUID, uuid.UUID], dict[str, Any]]:
    """Return by tire and stint the last pressure set, with the stint the tire had come from, if any."""
    ran_before = Stint.objects.filter(
        Q(wheel_pair__fittings__removed_at__isnull=True)
        | Q(wheel_pair__fittings__removed_at__gt=F("started_at")),
        wheel_pair__fittings__tire=OuterRef("tire"),
        wheel_pair__fittings__voided_at__isnull=True,
        wheel_pair__fittings__fitted_at__lte=F("started_at"),
        ended_at__lte=OuterRef("taken_at"),
        voided_at__isnull=True,
    ).order_by("-ended_at")
    rows = (
        PressureReading.objects.filter(
            moment=PressureReading.Moment.SET, voided_at__isnull=True, doubt="", stint__isnull=False
        )
        .order_by("taken_at", "id")
        .annotate(ran_from=Subquery(ran_before.values("started_at")[:1]))
        .annotate(ran_until=Subquery(ran_before.values("ended_at")[:1]))
        .values("tire_id", "stint_id", "pressure_kpa", "tire_c", "taken_at", "ran_from", "ran_until")
    )
    return {(row["tire_id"], row["stint_id"]): row for row in rows}


def _row(row: Mapping[str, Any], start: Mapping[str, Any], weather: Weather) -> dict[str, Any]:
    warmers_c, effort = row["stint__warmers_c"], row["stint__effort"]
    known = practice(
        row["tire__spec__line__category"], row["tire__spec__line__carcass"], row["tire__spec__axle"]
    )
    tire_c, tire_sd_c = _tire_when_set(start, warmers_c, weather, known)
    return {
        "start_kpa": start["pressure_kpa"],
        "tire_c": tire_c,
        "tire_sd_c": tire_sd_c,
        "hot_kpa": row["pressure_kpa"],
        "minutes_since_pit_in": _minutes(row["stint__ended_at"], row["taken_at"]),
        "minutes_on_track": _minutes(row["stint__started_at"], row["stint__ended_at"]),
        "barometer_kpa": weather.barometer_kpa,
        "air_c": weather.air_c,
        "warmers_c": np.nan if warmers_c is None else warmers_c,
        "track_over_air_c": weather.track_surface_c - weather.air_c,
        "effort": np.nan if effort is None else effort,
        "practice": known,
        "product": row["tire__spec__code"],
        "track": row["stint__layout__track__code"],
        "rider": row["stint__wheel_pair__bike__rider__code"],
    }


def _tire_when_set(
    start: Mapping[str, Any], warmers_c: float | None, weather: Weather, known: Practice
) -> tuple[float, float]:
    """Return the tire's temperature when it was set, and how sure that is.

    As it was measured; else that of the warmers; else what its last stint left in it.
    """
    given_c = warmers_c if start["tire_c"] is None else start["tire_c"]
    if given_c is not None:
        return given_c, TIRE_TEMPERATURE_SD_C
    has_run = start["ran_until"] is not None
    standing = standing_tire(
        air_c=weather.air_c,
        rise_c=known.settled_rise_c,
        minutes_on_track=_minutes(start["ran_from"], start["ran_until"]) if has_run else np.nan,
        minutes_since=_minutes(start["ran_until"], start["taken_at"]) if has_run else np.nan,
    )
    return float(standing.tire_c), float(standing.sd_c)


def _minutes(start: datetime, end: datetime) -> float:
    return max((end - start).total_seconds() / 60, 0.0)
