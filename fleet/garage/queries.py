"""Reads of riders and what they own."""

import uuid
from collections.abc import Iterable

from django.db.models import F, QuerySet

from fleet.accounts.policy import Actor, Service
from fleet.errors import NotFound
from fleet.garage.models import Instrument, Rider, Sharing


def own_rider(by: Actor) -> Rider | None:
    """Return the rider record of the person who asks, where there is one."""
    return None if isinstance(by, Service) else Rider.objects.filter(person=by).first()


def owns(by: Actor, rider: Rider) -> bool:
    """Return whether somebody is this rider, or the service itself."""
    return isinstance(by, Service) or rider.person_id == by.pk


def require_owner(by: Actor, rider: Rider) -> None:
    """Refuse anybody but the rider."""
    if not owns(by, rider):
        raise NotFound("There is no such rider for you: riders change only their own things.")


def sharings_of(rider: Rider) -> QuerySet[Sharing]:
    """Return the permissions a rider gives at present."""
    return (
        Sharing.objects.filter(rider=rider, withdrawn_at__isnull=True)
        .select_related("organisation")
        .order_by("organisation__name")
    )


def own_gauges(riders: Iterable[uuid.UUID]) -> dict[uuid.UUID, Instrument]:
    """Return each rider's pressure gauge, the one compared last where there are several."""
    gauges = Instrument.objects.filter(kind=Instrument.Kind.PRESSURE, rider__in=set(riders))
    ordered = gauges.order_by(F("compared_on").asc(nulls_first=True), "id")
    return {gauge.rider_id: gauge for gauge in ordered if gauge.rider_id}
