"""The mark that says a tire's facts changed, which is what the assessing job looks for."""

import uuid
from typing import Final

from django.db.models import F

from fleet.inventory.models import Tire

ASSESS: Final = "fleet.life.tasks.assess_changed"
DRAFT: Final = "fleet.pressures.tasks.draft_changed"


def touch(*tires: uuid.UUID) -> None:
    """Raise the revision of tires, in the transaction that writes the fact about them."""
    Tire.objects.filter(pk__in=tires).update(revision=F("revision") + 1)
