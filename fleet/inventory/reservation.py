"""The noun of a rider's reservation; it stands in a file of its own under the other nouns of stock, which point to it."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.accounts.models import Organisation
from fleet.catalogue.models import TireSpec
from fleet.garage.models import Rider
from fleet.records import Fact


class Reservation(Fact):
    """Tires of one spec that a vendor keeps for a rider until a day.

    What was taken of it is the sum of the ledger's lines that name it. ``taken`` and ``state`` come with the rows that
    ``availability`` reads.
    """

    class State(models.TextChoices):
        """How far it has come."""

        ASKED = "asked", "Asked for"
        KEPT = "kept", "Confirmed"
        READY = "ready", "Set aside on the trailer"
        TAKEN = "taken", "Taken"
        WITHDRAWN = "withdrawn", "Taken back by the rider"
        RELEASED = "released", "Released by the vendor"
        EXPIRED = "expired", "Not taken in time"

    class End(models.TextChoices):
        """How one ends without being taken."""

        WITHDRAWN = "withdrawn", "Taken back by the rider"
        RELEASED = "released", "Released by the vendor"
        EXPIRED = "expired", "Not taken in time"

    taken: int
    state: str

    rider = models.ForeignKey(Rider, models.PROTECT, related_name="reservations")
    vendor = models.ForeignKey(Organisation, models.PROTECT, related_name="reservations")
    spec = models.ForeignKey(TireSpec, models.PROTECT, related_name="reservations")
    quantity = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1, "Reserve at least one tire.")]
    )
    wanted_on = models.DateField()
    kept_at = models.DateTimeField(null=True, blank=True)
    ready_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_as = models.CharField(max_length=10, choices=End, blank=True)
    ended_by = models.ForeignKey("accounts.Person", models.PROTECT, null=True, blank=True, related_name="+")
    end_reason = models.CharField(max_length=200, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(condition=Q(quantity__gt=0), name="inventory_reservation_of_something"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_as="", end_reason="")
                | Q(ended_at__isnull=False, ended_as__in=["withdrawn", "expired"], end_reason="")
                | Q(ended_at__isnull=False, ended_as="released"),
                name="inventory_reservation_ends_somehow",
            ),
            models.CheckConstraint(
                condition=Q(ready_at__isnull=True) | Q(kept_at__lte=F("ready_at")),
                name="inventory_reservation_kept_before_ready",
            ),
        ]
        indexes = [
            models.Index(
                fields=["vendor", "spec"],
                condition=Q(ended_at__isnull=True),
                name="inventory_reservation_open",
            ),
            models.Index(fields=["rider", "-wanted_on"], name="inventory_reservation_of_rider"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.spec}"

    @property
    def state_in_words(self) -> str:
        """Return how far it has come, for people."""
        return str(self.State(self.state).label)

    @property
    def left(self) -> int:
        """Return how many tires are still to be handed over."""
        return max(self.quantity - self.taken, 0)

    @property
    def is_open(self) -> bool:
        """Whether tires are still kept for the rider."""
        return self.ended_at is None and self.left > 0
