"""Lots and their ledger, physical tires, job tickets, fittings, removals, holds and recalls."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.accounts.models import Organisation
from fleet.catalogue.models import Axle, TireLine, TireSpec
from fleet.garage.models import Rider, WheelPair
from fleet.inventory.handover import Handover  # noqa: F401 -- a noun of this subject in a file of its own
from fleet.inventory.inspection import Inspection  # noqa: F401 -- a noun of this subject in a file of its own
from fleet.inventory.reservation import Reservation
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
        indexes = [models.Index(fields=["spec", "made_on"], name="inventory_lot_weeks")]

    def __str__(self) -> str:
        return self.code


class Listing(Noun):
    """What a vendor asks for one tire of a spec, in its currency, and how few left in all are few."""

    vendor = models.ForeignKey(Organisation, models.PROTECT, related_name="listings")
    spec = models.ForeignKey(TireSpec, models.PROTECT, related_name="listings")
    price = models.DecimalField(max_digits=9, decimal_places=2, validators=[MinValueValidator(0)])
    low_at = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vendor", "spec"], name="inventory_listing_once")]

    def __str__(self) -> str:
        return str(self.spec)


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
    unit_price = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    reservation = models.ForeignKey(
        Reservation, models.PROTECT, null=True, blank=True, related_name="movements"
    )

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
    plant = models.CharField(max_length=3, blank=True)
    revision = models.PositiveIntegerField(default=1)

    class Meta:
        indexes = [models.Index(fields=["spec", "made_on"], name="inventory_tire_weeks")]

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

    def wish_for(self, axle: str) -> "TicketWish | None":
        """Return what is wished for an axle, or nothing where that wheel is left as it is."""
        return next((wish for wish in self.wishes.all() if wish.axle == axle), None)

    @property
    def axles(self) -> list[str]:
        """Which wheels there is work for, front before rear; none where nobody said."""
        return [axle for axle in Axle.values if self.wish_for(axle)]


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
    vendor = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="removals")

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.UniqueConstraint(
                fields=["fitting"], condition=Q(voided_at__isnull=True), name="inventory_removal_once"
            ),
        ]


class TicketWish(Noun):
    """What is wished for one wheel of a ticket: what goes on, where it is known, and what happens with what comes off."""

    ticket = models.ForeignKey(JobTicket, models.CASCADE, related_name="wishes")
    axle = models.CharField(max_length=5, choices=Axle)
    spec = models.ForeignKey(TireSpec, models.PROTECT, null=True, blank=True, related_name="wishes")
    own_tire = models.ForeignKey(Tire, models.PROTECT, null=True, blank=True, related_name="wishes")
    destination = models.CharField(max_length=12, choices=Removal.Destination, blank=True)
    wished_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["ticket", "axle"], name="inventory_ticketwish_one_an_axle"),
            models.CheckConstraint(
                condition=Q(spec__isnull=True) | Q(own_tire__isnull=True),
                name="inventory_ticketwish_one_tire",
                violation_error_message="One tire goes on: name a spec from stock or one of the rider's own, not both.",
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


class RecallNotice(Fact):
    """Tires a maker or an authority withdrew: a spec, or a line, by the weeks they were made in and their plant.

    Which tires it touches is derived. Without ``entered_for`` it binds everybody; an organisation's binds what is in its reach.
    """

    reference = models.CharField(max_length=40)
    issued_by = models.CharField(max_length=80)
    published_on = models.DateField()
    spec = models.ForeignKey(TireSpec, models.PROTECT, null=True, blank=True, related_name="recalls")
    line = models.ForeignKey(TireLine, models.PROTECT, null=True, blank=True, related_name="recalls")
    axle = models.CharField(max_length=5, choices=Axle, blank=True)
    first_code = models.CharField(max_length=4)
    last_code = models.CharField(max_length=4)
    made_from = models.DateField()
    made_to = models.DateField()
    plant = models.CharField(max_length=3, blank=True)
    what_to_do = models.CharField(max_length=160)
    entered_for = models.ForeignKey(
        Organisation, models.PROTECT, null=True, blank=True, related_name="recalls"
    )
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey("accounts.Person", models.PROTECT, null=True, blank=True, related_name="+")
    lift_reason = models.CharField(max_length=300, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(spec__isnull=False, line__isnull=True, axle="")
                | Q(spec__isnull=True, line__isnull=False),
                name="inventory_recallnotice_spec_or_line",
                violation_error_message="A notice names one spec, or a whole line and perhaps one axle of it.",
            ),
            models.CheckConstraint(
                condition=Q(made_from__lte=F("made_to")),
                name="inventory_recallnotice_weeks_in_order",
                violation_error_message="The first week lies before the last one: check both date codes.",
            ),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True, lift_reason="")
                | (Q(lifted_at__isnull=False) & ~Q(lift_reason="")),
                name="inventory_recallnotice_lifted_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"Recall {self.reference} by {self.issued_by}"


class SidewallReading(Fact):
    """The number read off a tire's sidewall by somebody with the right to hold it; the newest one stands."""

    tire = models.ForeignKey(Tire, models.PROTECT, related_name="sidewall_readings")
    read_for = models.ForeignKey(Organisation, models.PROTECT, related_name="sidewall_readings")
    identification = models.CharField(max_length=20)
    made_on = models.DateField()
    plant = models.CharField(max_length=3, blank=True)
    read_at = models.DateTimeField()

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.UniqueConstraint(
                fields=["tire"],
                condition=Q(voided_at__isnull=True),
                name="inventory_sidewallreading_one_stands",
                violation_error_message="Somebody read this sidewall at the same moment: look at the tire again.",
            ),
        ]


class RecallContact(Fact):
    """A rider told about a recall by a person, outside the service."""

    class Way(models.TextChoices):
        """How the rider was told."""

        PHONE = "phone", "By phone"
        IN_PERSON = "in_person", "In person"
        WRITING = "writing", "In writing"

    notice = models.ForeignKey(RecallNotice, models.PROTECT, related_name="contacts")
    rider = models.ForeignKey(Rider, models.PROTECT, related_name="recall_contacts")
    told_for = models.ForeignKey(Organisation, models.PROTECT, related_name="recall_contacts")
    way = models.CharField(max_length=10, choices=Way)
    told_at = models.DateTimeField()
