"""The mark that says a tire's facts changed, which is what the assessing job looks for."""

import uuid
from typing import Final

from fleet.inventory.models import Tire
from fleet.revisions import raise_revision

ASSESS: Final = "fleet.life.tasks.assess_changed"
DRAFT: Final = "fleet.pressures.tasks.draft_changed"


def touch(*tires: uuid.UUID) -> None:
    """Raise the revision of tires, in the transaction that writes the fact about them."""
    raise_revision(Tire, tires)
