"""What people do about flags."""

from datetime import datetime

from django.db import transaction

from fleet.accounts.models import What
from fleet.accounts.policy import Actor, author
from fleet.accounts.trail import note
from fleet.errors import Conflict, NotFound
from fleet.life.models import Flag
from fleet.life.queries import open_flags


@transaction.atomic
def acknowledge_flag(*, by: Actor, at: datetime, flag: Flag) -> Flag:
    """Note that somebody who may see a flag has seen it; only a fact clears it."""
    if not open_flags(by, on=at.date()).filter(pk=flag.pk).exists():
        raise NotFound("There is no such open flag for you: it may have been cleared.")
    seen = Flag.objects.filter(pk=flag.pk, acknowledged_at__isnull=True).update(
        acknowledged_at=at, acknowledged_by=author(by)
    )
    if not seen:
        raise Conflict("Somebody acknowledged this flag before; nothing was changed.")
    note(flag, What.ACKNOWLEDGED, by=by, after={"state": flag.state}, rider=flag.tire.owner_id)
    flag.refresh_from_db()
    return flag
