"""People, organisations, the roles that join them, keys, and the trail of what was changed."""

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import RegexValidator
from django.db import models
from django.utils import timezone

from fleet.records import Noun

ERASED_DOMAIN = "erased.invalid"
"""Where the address of a closed account leads: nowhere, and to nobody (RFC 2606)."""


class PersonManager(BaseUserManager["Person"]):
    """Makes people who sign in with an e-mail address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "Person":
        """Store a person; without a password no sign-in works until one is set."""
        person = self.model(email=self.normalize_email(email).lower(), **fields)
        person.set_password(password)
        person.full_clean()
        person.save(using=self._db)
        return person

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> "Person":
        """Store a person with every technical right, for ``manage.py createsuperuser``."""
        return self.create_user(email, password, is_superuser=True, **fields)


class Person(Noun, AbstractBaseUser, PermissionsMixin):
    """Somebody who signs in, with the units they want to see."""

    class PressureUnit(models.TextChoices):
        """Units a pressure is shown in."""

        PSI = "psi", "psi"
        BAR = "bar", "bar"
        KPA = "kPa", "kPa"

    class TemperatureUnit(models.TextChoices):
        """Units a temperature is shown in."""

        CELSIUS = "C", "°C"
        FAHRENHEIT = "F", "°F"

    class DepthUnit(models.TextChoices):
        """Units a tread depth is shown in."""

        MM = "mm", "mm"
        INCH32 = "32nds", "1/32 in"

    class DistanceUnit(models.TextChoices):
        """Units a distance is shown in."""

        KM = "km", "km"
        MILE = "mi", "mi"

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=100)
    is_active = models.BooleanField(default=True)
    pressure_unit = models.CharField(max_length=5, choices=PressureUnit, default=PressureUnit.PSI)
    temperature_unit = models.CharField(
        max_length=5, choices=TemperatureUnit, default=TemperatureUnit.CELSIUS
    )
    depth_unit = models.CharField(max_length=5, choices=DepthUnit, default=DepthUnit.MM)
    distance_unit = models.CharField(max_length=5, choices=DistanceUnit, default=DistanceUnit.KM)

    objects: ClassVar[PersonManager] = PersonManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]
    used_key: "ApiKey | None" = None
    """The key with which this person asks now, set where it is checked and never stored; the trail notes it."""

    def __str__(self) -> str:
        return self.name


class Organisation(Noun):
    """A tire vendor, a track-day organiser, or both at once; it owns its data."""

    code = models.SlugField(unique=True)
    name = models.CharField(max_length=100)
    is_vendor = models.BooleanField(default=False)
    is_organiser = models.BooleanField(default=False)
    contact = models.CharField(max_length=200, blank=True)
    currency = models.CharField(
        max_length=3,
        blank=True,
        validators=[
            RegexValidator(r"^[A-Z]{3}$", "A currency is its three letters, such as EUR (ISO 4217).")
        ],
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(is_vendor=True) | models.Q(is_organiser=True),
                name="accounts_organisation_has_a_kind",
                violation_error_message="An organisation is a vendor, an organiser, or both: say which.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    """What somebody does for an organisation; riders need no role."""

    FITTER = "fitter", "Fitter"
    STOCK_MANAGER = "stock_manager", "Stock manager"
    CREW = "crew", "Event crew"
    DIRECTOR = "director", "Event director"
    INSPECTOR = "inspector", "Tech inspector"
    TESTER = "tester", "Tester"


class Membership(Noun):
    """One role of one person in one organisation."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="memberships")
    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "organisation", "role"], name="accounts_membership_once"
            )
        ]


class RoleOffer(Noun):
    """A link with which somebody takes a role; used once, and only a digest of it is stored."""

    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="role_offers")
    role = models.CharField(max_length=20, choices=Role)
    meant_for = models.CharField(max_length=100)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(taken_at__isnull=True) | models.Q(withdrawn_at__isnull=True),
                name="accounts_roleoffer_taken_or_withdrawn",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} at {self.organisation}"


class Scope(models.TextChoices):
    """What a key opens, within what its person or role may do anyway."""

    READ = "read", "Read everything the key's owner may read"
    WRITE_GARAGE = "write_garage", "Add riders, bikes, wheels and gauges, choose units"
    WRITE_FACTS = "write_facts", "Log stints, readings and notes, note flags and notices as seen"
    WRITE_ACCESS = "write_access", "Share stints and take that back, invite walk-ins"
    WRITE_STOCK = "write_stock", "Receive, load and move stock, reserve tires"
    WRITE_FITTINGS = "write_fittings", "Take wheels in, fit and remove tires"
    WRITE_HOLDS = "write_holds", "Place and lift holds, enter recalls, read sidewalls"
    WRITE_EVENTS = "write_events", "Plan events, enter riders, record conditions, draft"
    ISSUE_BULLETINS = "issue_bulletins", "Issue and withdraw bulletins"


class ApiKey(Noun):
    """A secret with which a program acts as a person, or for an organisation as an account with one role.

    Only a digest of the secret is stored; the prefix finds it and is shown in lists.
    """

    person = models.ForeignKey(Person, models.CASCADE, related_name="api_keys")
    organisation = models.ForeignKey(
        Organisation, models.CASCADE, null=True, blank=True, related_name="api_keys"
    )
    name = models.CharField(max_length=60)
    scopes = models.JSONField(default=list)
    prefix = models.CharField(max_length=10, unique=True, editable=False)
    digest = models.CharField(max_length=64, editable=False)
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True, blank=True)
    last_used_on = models.DateField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(revoked_at__isnull=True, revoked_by__isnull=True)
                | models.Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="accounts_apikey_revoked_by_somebody",
            ),
            models.CheckConstraint(
                condition=models.Q(expires_at__isnull=True) | models.Q(expires_at__gt=models.F("made_at")),
                name="accounts_apikey_expires_after_it_was_made",
                violation_error_message="A key ends after it was made: give a later day, or none.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class What(models.TextChoices):
    """What was done to a row, as the trail stores it."""

    MADE = "made", "Made"
    CORRECTED = "corrected", "Corrected"
    MOVED = "moved", "Moved on"
    TAKEN_INTO_USE = "taken_into_use", "Taken into use"
    PUT_ASIDE = "put_aside", "Put aside"
    GRANTED = "granted", "Granted"
    TAKEN_BACK = "taken_back", "Taken back"
    CLAIMED = "claimed", "Claimed"
    REVOKED = "revoked", "Revoked"
    ISSUED = "issued", "Issued"
    SUPERSEDED = "superseded", "Superseded"
    WITHDRAWN = "withdrawn", "Withdrawn"
    LIFTED = "lifted", "Lifted"
    ACKNOWLEDGED = "acknowledged", "Noted as seen"
    DELETED = "deleted", "Deleted"
    TAKEN_OUT = "taken_out", "Taken out"
    ERASED = "erased", "Erased"


class Change(Noun):
    """One line of the trail: who did what to which row, when, on whose behalf, and what it looked like before and after.

    Facts carry their own author and are not repeated here. ``at`` is the clock when the line is written, which no caller sets. ``rider``
    is an id only: riders stand higher on the ladder, and the trail outlives the row it is about.
    """

    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    api_key = models.ForeignKey(ApiKey, models.PROTECT, null=True, blank=True, related_name="+")
    on_behalf_of = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="+")
    what = models.CharField(max_length=16, choices=What)
    noun = models.CharField(max_length=40)
    row = models.UUIDField()
    before = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)
    after = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)
    rider = models.UUIDField(null=True, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    organisation = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["rider", "-at"], name="accounts_change_of_rider"),
            models.Index(fields=["person", "-at"], name="accounts_change_of_person"),
            models.Index(fields=["organisation", "-at"], name="accounts_change_of_org"),
            models.Index(fields=["on_behalf_of", "-at"], name="accounts_change_on_behalf"),
            models.Index(fields=["row", "-at"], name="accounts_change_of_row"),
        ]
