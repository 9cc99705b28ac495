"""The secret address from which a rider's own calendar reads their times on track."""

import secrets
from datetime import datetime

from django.db import transaction

from fleet.accounts.digests import digest_of
from fleet.accounts.models import What
from fleet.accounts.policy import Actor
from fleet.accounts.trail import note, note_made
from fleet.events.models import CalendarLink
from fleet.garage.models import Rider
from fleet.garage.queries import require_owner
from fleet.records import store


@transaction.atomic
def open_calendar(*, by: Actor, at: datetime, rider: Rider) -> tuple[CalendarLink, str]:
    """Return a rider's calendar address with its secret, which is not stored; one made earlier ends."""
    close_calendar(by=by, at=at, rider=rider)
    token = secrets.token_urlsafe(32)
    made = store(CalendarLink(rider=rider, digest=digest_of(token), made_at=at))
    return note_made(made, "made_at", by=by, rider=rider.pk), token


@transaction.atomic
def close_calendar(*, by: Actor, at: datetime, rider: Rider) -> None:
    """End a rider's calendar address at once; without one nothing happens."""
    require_owner(by, rider)
    Rider.objects.select_for_update(no_key=True).get(pk=rider.pk)  # two may open one at once
    for link in CalendarLink.objects.filter(rider=rider, ended_at__isnull=True):
        CalendarLink.objects.filter(pk=link.pk).update(ended_at=at)
        note(link, What.REVOKED, by=by, rider=rider.pk)
