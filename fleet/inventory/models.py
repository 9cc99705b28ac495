"""Lots and their ledger, physical tires, job tickets, fittings, removals and holds."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.accounts.models import Organisation
from fleet.catalogue.models import Axle, TireSpec
from fleet.garage.models import Rider, WheelPair
from fleet.records import Fact, Noun


class Lot(Noun):
    """One delivery of one spec with one date code to one vendor."""

    vendor = models.ForeignKey(Organisation, models.PROTECT, related_name="lots")
    spec = models.ForeignKey(TireSpec, models.PROTECT, related_name="lots")
    code = models.SlugField(max_length=40)
    date_code = models.CharField(max_length=4)
    made_on = models.DateField()
    unit_cost = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vendor", "code"], name="inventory_lot_once")]

    def __str__(self) -> str:
        return self.code


class Place(models.TextChoices):
    """Where a vendor keeps tires."""

    STORE = "store", "Store"
    TRAILER = "trailer", "Trailer"


class StockMovement(Fact):
    """A line in a lot's ledger at one place; the stock there is the sum of its standing lines, never below zero."""

    class Kind(models.TextChoices):
        """Why the number changed."""

        RECEIVED = "received", "Received"
        LOADED = "loaded", "Loaded"
        FITTED = "fitted", "Fitted"
        SOLD = "sold", "Sold"
        RETURNED = "returned", "Returned"
        WRITTEN_OFF = "written_off", "Written off"
        COUNTED = "counted", "Counted"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=12, choices=Kind)
    place = models.CharField(max_length=8, choices=Place)
    quantity = models.IntegerField()
    moved_at = models.DateTimeField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=~Q(quantity=0),
                name="inventory_stockmovement_moves_something",
                violation_error_message="A movement moves at least one tire.",
            ),
            models.CheckConstraint(
                condition=(Q(kind__in=["received", "returned"]) & Q(quantity__gt=0))
                | (Q(kind__in=["fitted", "sold", "written_off"]) & Q(quantity__lt=0))
                | Q(kind__in=["loaded", "counted"]),
                name="inventory_stockmovement_sign_fits_kind",
                violation_error_message="Tires received or returned add to stock; fitted, sold or written off they leave it.",
            ),
        ]
        indexes = [models.Index(fields=["lot", "place"], name="inventory_movement_sum")]


class Tire(Noun):
    """One physical tire; ``revision`` grows with every fact about it, so that a stale assessment is recognised."""

    spec = models.ForeignKey(TireSpec, models.PROTECT, related_name="tires")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="tires")
    owner = models.ForeignKey(Rider, models.PROTECT, related_name="tires")
    label_code = models.CharField(max_length=12, unique=True)
    identification = models.CharField(max_length=20, blank=True)
    made_on = models.DateField(null=True, blank=True)
    revision = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"{self.spec} {self.label_code}"


class JobTicket(Noun):
    """A rider's wheels handed in at the trailer."""

    class State(models.TextChoices):
        """Where the wheels are in the work."""

        WAITING = "waiting", "Waiting"
        ON_MACHINE = "on_machine", "On the machine"
        READY = "ready", "Ready"
        COLLECTED = "collected", "Collected"

    vendor = models.ForeignKey(Organisation, models.PROTECT, related_name="tickets")
    wheel_pair = models.ForeignKey(WheelPair, models.PROTECT, related_name="tickets")
    number = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    opened_on = models.DateField()
    opened_at = models.DateTimeField()
    promised_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=State, default=State.WAITING)
    wish = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vendor", "opened_on", "number"], name="inventory_jobticket_number_of_day"
            )
        ]


class Fitting(Fact):
    """A tire on a wheel pair's axle from a time until its removal; standing fittings never overlap."""

    tire = models.ForeignKey(Tire, models.PROTECT, related_name="fittings")
    wheel_pair = models.ForeignKey(WheelPair, models.PROTECT, related_name="fittings")
    axle = models.CharField(max_length=5, choices=Axle)
    fitted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    vendor = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="fittings")
    ticket = models.ForeignKey(JobTicket, models.PROTECT, null=True, blank=True, related_name="fittings")
    movement = models.OneToOneField(
        StockMovement, models.PROTECT, null=True, blank=True, related_name="fitting"
    )

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True) | Q(removed_at__gt=F("fitted_at")),
                name="inventory_fitting_ends_after_it_starts",
                violation_error_message="A tire is removed after it was fitted: check both times.",
            ),
        ]
        indexes = [
            models.Index(fields=["wheel_pair", "axle", "-fitted_at"], name="inventory_fitting_on_axle"),
            models.Index(fields=["tire", "fitted_at"], name="inventory_fitting_of_tire"),
        ]


class Removal(Fact):
    """The end of a fitting, with its reason and where the tire went."""

    class Reason(models.TextChoices):
        """Why the tire came off."""

        WORN = "worn", "Worn out"
        DAMAGED = "damaged", "Damaged"
        SWAP = "swap", "Swapped for another tire"
        AGE = "age", "Too old"
        SOLD = "sold", "Sold"
        OTHER = "other", "Other"

    class Destination(models.TextChoices):
        """Where it went."""

        KEPT = "kept", "Kept by the vendor for the rider"
        HANDED_BACK = "handed_back", "Handed back"
        SCRAPPED = "scrapped", "Scrapped"
        ON_HOLD = "on_hold", "On hold"

    fitting = models.ForeignKey(Fitting, models.PROTECT, related_name="removals")
    removed_at = models.DateTimeField()
    reason = models.CharField(max_length=10, choices=Reason)
    destination = models.CharField(max_length=12, choices=Destination)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.UniqueConstraint(
                fields=["fitting"], condition=Q(voided_at__isnull=True), name="inventory_removal_once"
            ),
        ]


class Hold(Fact):
    """A tire that must not be used, until somebody with the right lifts it."""

    class Reason(models.TextChoices):
        """Why it must not be used."""

        RECALL = "recall", "Recall"
        DAMAGE = "damage", "Damage"
        INSPECTION = "inspection", "Tech inspection"

    tire = models.ForeignKey(Tire, models.PROTECT, related_name="holds")
    placed_for = models.ForeignKey(Organisation, models.PROTECT, related_name="holds")
    reason = models.CharField(max_length=12, choices=Reason)
    note = models.CharField(max_length=300, blank=True)
    placed_at = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey("accounts.Person", models.PROTECT, null=True, blank=True, related_name="+")
    lift_reason = models.CharField(max_length=300, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True, lift_reason="")
                | (Q(lifted_at__isnull=False) & ~Q(lift_reason="")),
                name="inventory_hold_lifted_with_reason",
            ),
        ]
        indexes = [
            models.Index(fields=["tire"], condition=Q(lifted_at__isnull=True), name="inventory_hold_open")
        ]
