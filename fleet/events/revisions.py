"""The mark that says a day's guidance rests on something that changed, which is what the drafting job looks for."""

import uuid

from fleet.events.models import Day
from fleet.revisions import raise_revision


def touch_days(*days: uuid.UUID) -> None:
    """Raise the revision of days, in the transaction that writes the change."""
    raise_revision(Day, days)
