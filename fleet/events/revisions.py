"""The mark that says a day's guidance rests on something that changed, which is what the drafting job looks for."""

import uuid

from django.db.models import F

from fleet.events.models import Day


def touch_days(*days: uuid.UUID) -> None:
    """Raise the revision of days, in the transaction that writes the change."""
    Day.objects.filter(pk__in=days).update(revision=F("revision") + 1)
