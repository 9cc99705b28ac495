"""The noun of a tire that changes hands; it stands in a file of its own beside the other nouns of stock."""

from django.db import models
from django.db.models import Q

from fleet.garage.models import Rider
from fleet.records import Noun


class Handover(Noun):
    """A tire that one rider offers to another by a link, and what became of it; only a digest of the link is stored.

    Both agree: the giver by making the link, the taker by accepting it (``handed_at``). ``held_since`` is when the giver
    got the tire from somebody before, so that every moment of a tire's life has one holder.
    """

    tire = models.ForeignKey("inventory.Tire", models.PROTECT, related_name="handovers")
    giver = models.ForeignKey(Rider, models.PROTECT, related_name="handovers_given")
    held_since = models.DateTimeField(null=True, blank=True)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    offered_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    declined_at = models.DateTimeField(null=True, blank=True)
    taker = models.ForeignKey(Rider, models.PROTECT, null=True, blank=True, related_name="handovers_taken")
    handed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(handed_at__isnull=True, taker__isnull=True)
                | Q(
                    handed_at__isnull=False,
                    taker__isnull=False,
                    withdrawn_at__isnull=True,
                    declined_at__isnull=True,
                ),
                name="inventory_handover_one_end",
            ),
            models.UniqueConstraint(
                fields=["tire"],
                condition=Q(handed_at__isnull=True, withdrawn_at__isnull=True, declined_at__isnull=True),
                name="inventory_handover_one_open",
                violation_error_message="This tire was offered at the same moment: look for that link.",
            ),
        ]
        indexes = [models.Index(fields=["tire", "handed_at"], name="inventory_handover_of_tire")]
