"""People, organisations and the roles that join them."""

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models

from fleet.records import Noun


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

    def __str__(self) -> str:
        return self.name


class Organisation(Noun):
    """A tire vendor, a track-day organiser, or both at once; it owns its data."""

    code = models.SlugField(unique=True)
    name = models.CharField(max_length=100)
    is_vendor = models.BooleanField(default=False)
    is_organiser = models.BooleanField(default=False)
    contact = models.CharField(max_length=200, blank=True)

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
