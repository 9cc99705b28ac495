"""What the trailer's screens share: where and when it stands, whose wheels it takes, and what is left on it."""

import uuid
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import NotFound
from fleet.events.models import Day
from fleet.garage.models import Rider, WheelPair
from fleet.inventory.models import Lot
from fleet.inventory.queries import lots_for, riders_served, serves


def trailer_day(by: Person, at: datetime) -> Day | None:
    """Return the day the trailer works on: the next one its riders entered, or the last."""
    days = Day.objects.filter(entries__rider__in=riders_served(by)).select_related("layout__track")
    coming = days.filter(date__gte=at.date() - timedelta(days=1)).order_by("date", "pk").first()
    return coming or days.order_by("-date", "pk").first()


def trailer_zone(by: Person, at: datetime) -> str:
    """Return the time zone of the track the trailer works at."""
    nearest = trailer_day(by, at)
    return nearest.layout.track.time_zone if nearest else "UTC"


def local_today(by: Person, at: datetime) -> date:
    """Return the date at the track the trailer works at."""
    return at.astimezone(ZoneInfo(trailer_zone(by, at))).date()


def wheel_pair_served(by: Person, pk: uuid.UUID) -> WheelPair:
    """Return a wheel pair of a rider whom somebody's vendor serves."""
    pair = (
        WheelPair.objects.filter(pk=pk, bike__rider__in=riders_served(by))
        .select_related("bike__rider")
        .first()
    )
    if pair is None:
        raise NotFound("There are no such wheels among the riders you serve: look the rider up again.")
    return pair


def lots_on_trailer(by: Person) -> list[tuple[Lot, int]]:
    """Return the lots that have tires on the trailer, the oldest first, with how many."""
    counted = [(lot, int(getattr(lot, "on_trailer", 0))) for lot in lots_for(by)]
    return [(lot, left) for lot, left in counted if left > 0]


def stock_on_trailer(by: Person) -> list[dict[str, Any]]:
    """Return what is left on the trailer by spec, front before rear, with the date of the oldest lot."""
    rows: dict[uuid.UUID, dict[str, Any]] = {}
    for lot, left in lots_on_trailer(by):
        row = rows.setdefault(lot.spec_id, {"spec": lot.spec, "left": 0, "oldest": lot.made_on, "lots": 0})
        row["left"] += left
        row["lots"] += 1
    return sorted(rows.values(), key=lambda row: (row["spec"].axle, str(row["spec"])))


def vendor_for(by: Person, rider: Rider) -> Organisation:
    """Return the vendor of somebody's that serves a rider."""
    vendors = [vendor for vendor in organisations(by, Right.FIT).order_by("name") if serves(vendor, rider)]
    if not vendors:
        raise NotFound("None of your vendors serves this rider: look the rider up again.")
    return vendors[0]
