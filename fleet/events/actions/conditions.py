"""Writes of the weather of a day."""

import uuid
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet.accounts.policy import Actor, Right, author, require
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.events.models import Conditions, Day, Standing
from fleet.events.revisions import touch_days
from fleet.events.weather import barometer_at, estimated_surface_c, read_metar
from fleet.inventory.revisions import DRAFT
from fleet.records import check_past, earlier, once, store, void

DEW_POINT_SLACK_C = 1.0  # both may be rounded to whole degrees, so that saturated air looks like more


@once
@transaction.atomic
def record_conditions(
    *,
    by: Actor,
    at: datetime,
    day: Day,
    holds_at: datetime,
    standing: str,
    source: str,
    air_c: float,
    dew_point_c: float | None = None,
    barometer_kpa: float | None = None,
    altimeter_kpa: float | None = None,
    barometer_standing: str | None = None,
    track_surface_c: float | None = None,
    track_surface_standing: str | None = None,
    cloud_fraction: float | None = None,
    key: uuid.UUID | None = None,
) -> Conditions:
    """Store the weather at a moment of a day.

    The barometer is the pressure at the track; an altimeter setting is converted, and without either the standard
    atmosphere is taken. A track surface nobody measured is estimated. Both are then marked as estimated.
    """
    require(by, Right.EDIT_EVENT, day.event.organiser)
    if stored := earlier(
        Conditions, key, day_id=day.pk, holds_at=holds_at, standing=standing, source=source, air_c=air_c
    ):
        return stored
    track = day.layout.track
    if standing == Standing.OBSERVED:
        check_past("holds_at", holds_at, at=at)
    on = holds_at.astimezone(ZoneInfo(track.time_zone)).date()
    if abs(on - day.date) > timedelta(days=1):
        raise Invalid(
            f"These conditions hold at another date than the day, on {on:%a %d %b %Y}, and the day is {day.date:%a %d %b %Y}: "
            "give those of the day, or a forecast for it.",
            field="holds_at",
        )
    if dew_point_c is not None and dew_point_c > air_c + DEW_POINT_SLACK_C:
        raise Invalid(
            f"A dew point of {dew_point_c:g} °C is above the air temperature of {air_c:g} °C: were they swapped?",
            field="dew_point_c",
        )
    if barometer_kpa is None:
        barometer_kpa = barometer_at(track, altimeter_kpa=altimeter_kpa)
        barometer_standing = Standing.ESTIMATED
    if track_surface_c is None:
        track_surface_c = estimated_surface_c(
            track, air_c=air_c, cloud_fraction=cloud_fraction, moment=holds_at
        )
        track_surface_standing = Standing.ESTIMATED
    row = store(
        Conditions(
            id=key or uuid.uuid4(),
            day=day,
            holds_at=holds_at,
            standing=standing,
            source=source,
            air_c=air_c,
            dew_point_c=dew_point_c,
            barometer_kpa=barometer_kpa,
            barometer_standing=barometer_standing or standing,
            track_surface_c=track_surface_c,
            track_surface_standing=track_surface_standing or standing,
            cloud_fraction=cloud_fraction,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    touch_days(day.pk)
    wake(DRAFT)
    return row


def record_metar(
    *,
    by: Actor,
    at: datetime,
    day: Day,
    metar: str,
    holds_at: datetime | None = None,
    track_surface_c: float | None = None,
    key: uuid.UUID | None = None,
) -> Conditions:
    """Store a METAR report as the conditions of a day, holding at the report's own time unless another is given."""
    require(by, Right.EDIT_EVENT, day.event.organiser)
    weather = read_metar(metar, track=day.layout.track, seen_at=at)
    return record_conditions(
        by=by,
        at=at,
        day=day,
        holds_at=holds_at or weather.reported_at,
        standing=Standing.OBSERVED,
        source=metar.strip(),
        air_c=weather.air_c,
        dew_point_c=weather.dew_point_c,
        barometer_kpa=weather.barometer_kpa,
        barometer_standing=weather.barometer_standing,
        track_surface_c=track_surface_c,
        track_surface_standing=None if track_surface_c is None else Standing.OBSERVED,
        cloud_fraction=weather.cloud_fraction,
        key=key,
    )


@transaction.atomic
def void_conditions(*, by: Actor, at: datetime, conditions: Conditions, reason: str) -> Conditions:
    """Mark conditions as wrong; the next draft no longer uses them."""
    require(by, Right.EDIT_EVENT, conditions.day.event.organiser)
    void(conditions, by=author(by), at=at, reason=reason)
    touch_days(conditions.day_id)
    wake(DRAFT)
    return conditions
