"""Riders and what they own: bikes, wheel pairs, instruments; and with whom they share."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.accounts.models import Organisation
from fleet.garage.comparison import GaugeComparison  # noqa: F401 -- a noun of this subject in a file of its own
from fleet.records import Noun


class Rider(Noun):
    """A person who rides; a walk-in has no account yet and may claim the record later."""

    code = models.SlugField(unique=True, max_length=40)
    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="rider"
    )
    name = models.CharField(max_length=100)
    contact = models.CharField(max_length=120, blank=True)
    registered_with = models.ForeignKey(
        Organisation, models.PROTECT, null=True, blank=True, related_name="riders"
    )

    def __str__(self) -> str:
        return self.name


class Bike(Noun):
    """A rider's motorcycle, described by its class, with its chassis data where measured."""

    rider = models.ForeignKey(Rider, models.CASCADE, related_name="bikes")
    code = models.SlugField(unique=True, max_length=40)
    description = models.CharField(max_length=60)
    wheelbase_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(900), MaxValueValidator(2000)]
    )
    rake_deg = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(10), MaxValueValidator(45)]
    )
    fork_offset_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    front_rim_in = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(8)]
    )
    rear_rim_in = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(8)]
    )

    def __str__(self) -> str:
        return self.description


class WheelPair(Noun):
    """One front and one rear wheel that go on a bike together; one pair of a bike is in use."""

    bike = models.ForeignKey(Bike, models.CASCADE, related_name="wheel_pairs")
    code = models.SlugField(unique=True, max_length=40)
    name = models.CharField(max_length=40)
    is_in_use = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["bike"],
                condition=models.Q(is_in_use=True),
                name="garage_wheelpair_one_in_use",
                violation_error_message="Another wheel pair of this bike is in use: put that one aside first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.bike}, {self.name}"


class Instrument(Noun):
    """A gauge with its step and, where it was compared, how far it reads off (reading minus truth)."""

    class Kind(models.TextChoices):
        """What it measures."""

        PRESSURE = "pressure", "Pressure gauge"
        DEPTH = "depth", "Tread depth gauge"
        TEMPERATURE = "temperature", "Tread temperature probe"

    code = models.SlugField(unique=True, max_length=40)
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=12, choices=Kind)
    rider = models.ForeignKey(Rider, models.CASCADE, null=True, blank=True, related_name="instruments")
    organisation = models.ForeignKey(
        Organisation, models.CASCADE, null=True, blank=True, related_name="instruments"
    )
    step_kpa = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.1), MaxValueValidator(20)]
    )
    offset_kpa = models.FloatField(default=0.0, validators=[MinValueValidator(-40), MaxValueValidator(40)])
    compared_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(rider__isnull=False, organisation__isnull=True)
                | models.Q(rider__isnull=True, organisation__isnull=False),
                name="garage_instrument_one_owner",
                violation_error_message="An instrument belongs to a rider or to an organisation, not to both.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Sharing(Noun):
    """A rider's permission that an organisation may see something of theirs, until it is taken back."""

    class Scope(models.TextChoices):
        """What is shared."""

        STINTS = "stints", "Stints, readings and notes"

    rider = models.ForeignKey(Rider, models.CASCADE, related_name="sharings")
    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="sharings")
    scope = models.CharField(max_length=12, choices=Scope)
    granted_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["rider", "organisation", "scope"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="garage_sharing_once",
            )
        ]


class Invitation(Noun):
    """A link with which a walk-in takes over their record; used once, and only a digest of it is stored."""

    rider = models.ForeignKey(Rider, models.CASCADE, related_name="invitations")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    claimed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(claimed_at__isnull=True) | models.Q(revoked_at__isnull=True),
                name="garage_invitation_claimed_or_revoked",
            ),
            models.UniqueConstraint(
                fields=["rider"],
                condition=models.Q(claimed_at__isnull=True, revoked_at__isnull=True),
                name="garage_invitation_one_open",
                violation_error_message="Another invitation was made at the same moment: look for that one.",
            ),
        ]
