"""The mark that says a tire's facts changed, which is what the assessing job looks for."""

import uuid
from typing import Final

from django.db.models import F, QuerySet

from fleet.inventory.models import Tire
from fleet.revisions import raise_revision

ASSESS: Final = "fleet.life.tasks.assess_changed"
DRAFT: Final = "fleet.pressures.tasks.draft_changed"
TELL_RECALLED: Final = "fleet.inventory.tasks.tell_recalled"


def hold_still(*tires: uuid.UUID) -> None:
    """Make others who fit, remove or void these tires wait until this transaction is done; look at them after that.

    Whoever also holds a fitting holds that first, so that two do not wait for each other.
    """
    held = Tire.objects.select_for_update(no_key=True).filter(pk__in=tires).order_by("pk")
    list(held.values_list("pk"))


def touch(*tires: uuid.UUID) -> None:
    """Raise the revision of tires, in the transaction that writes the fact about them."""
    raise_revision(Tire, tires)


def touch_all(tires: QuerySet[Tire]) -> int:
    """Raise the revision of every tire of a query in one step; their number is returned."""
    return tires.order_by().update(revision=F("revision") + 1)
