"""The noun of a look at a tire before it goes out; it stands in a file of its own beside the other nouns of tires."""

from django.db import models
from django.db.models import Q

from fleet.accounts.models import Organisation
from fleet.photos.models import Photo
from fleet.records import Fact


class Inspection(Fact):
    """What tech inspection found on a tire: it passed, its rider was advised, or it was held."""

    class Outcome(models.TextChoices):
        """What came of it."""

        PASS = "pass", "Pass"
        ADVISE = "advise", "Advise"
        HOLD = "hold", "Hold"

    tire = models.ForeignKey("inventory.Tire", models.PROTECT, related_name="inspections")
    inspected_for = models.ForeignKey(Organisation, models.PROTECT, related_name="inspections")
    outcome = models.CharField(max_length=6, choices=Outcome)
    words = models.CharField(max_length=300, blank=True)
    inspected_at = models.DateTimeField()
    hold = models.ForeignKey(
        "inventory.Hold", models.PROTECT, null=True, blank=True, related_name="inspections"
    )
    photo = models.OneToOneField(Photo, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(outcome="hold", hold__isnull=False)
                | Q(outcome__in=["pass", "advise"], hold__isnull=True),
                name="inventory_inspection_holds_by_a_hold",
                violation_error_message="A tire is held by a hold, and only then.",
            ),
        ]
        indexes = [models.Index(fields=["tire", "-inspected_at"], name="inventory_inspection_newest")]

    @property
    def said(self) -> str:
        """Return what came of it, for people."""
        return {"pass": "passed", "advise": "advised", "hold": "held"}[self.outcome]
