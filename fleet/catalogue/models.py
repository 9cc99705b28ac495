"""What can be bought: lines, specs, published pressures and what others reported."""

from typing import Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.accounts.models import Organisation
from fleet.records import Noun

GAUGE_KPA = [
    MinValueValidator(50, "A tire pressure under 50 kPa (7 psi) is not plausible: check the unit."),
    MaxValueValidator(700, "A tire pressure over 700 kPa (100 psi) is not plausible: check the unit."),
]
TREAD_MM = [
    MinValueValidator(0, "A tread depth is 0 mm or more."),
    MaxValueValidator(20, "A tread depth over 20 mm is not plausible: check the unit."),
]


class Axle(models.TextChoices):
    """Which end of the bike."""

    FRONT = "front", "Front"
    REAR = "rear", "Rear"


AXLES: Final = (Axle.FRONT.value, Axle.REAR.value)
"""Both ends, the front first."""


class TireLine(Noun):
    """A maker's named family of tires with a category."""

    class Category(models.TextChoices):
        """What a line is made for."""

        ROAD_SPORT = "road_sport", "Road sport"
        TRACK_DAY = "track_day", "Track day"
        RACE_TREADED = "race_treaded", "Race treaded"
        SLICK = "slick", "Slick"
        WET = "wet", "Wet"

    class Carcass(models.TextChoices):
        """How stiff the casing is; a soft one works at lower pressures."""

        SOFT = "soft", "Soft"
        MEDIUM = "medium", "Medium"
        STIFF = "stiff", "Stiff"

    maker = models.CharField(max_length=60)
    name = models.CharField(max_length=60)
    category = models.CharField(max_length=20, choices=Category)
    carcass = models.CharField(max_length=10, choices=Carcass, default=Carcass.MEDIUM)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["maker", "name"], name="catalogue_tireline_once")]

    def __str__(self) -> str:
        return f"{self.maker} {self.name}"


class TireSpec(Noun):
    """What one orders: a line in one size and compound for one axle, with its limits."""

    line = models.ForeignKey(TireLine, models.PROTECT, related_name="specs")
    code = models.SlugField(unique=True, max_length=40)
    axle = models.CharField(max_length=5, choices=Axle)
    size = models.CharField(max_length=40)
    compound = models.CharField(max_length=30, blank=True)
    new_depth_mm = models.FloatField(validators=TREAD_MM)
    wear_limit_mm = models.FloatField(validators=TREAD_MM)
    lower_kpa = models.FloatField(null=True, blank=True, validators=GAUGE_KPA)
    upper_kpa = models.FloatField(null=True, blank=True, validators=GAUGE_KPA)
    heat_cycle_limit = models.PositiveSmallIntegerField(null=True, blank=True)
    is_road_legal = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["line", "axle", "size", "compound"], name="catalogue_tirespec_once"
            ),
            models.CheckConstraint(
                condition=models.Q(wear_limit_mm__gte=0, wear_limit_mm__lt=models.F("new_depth_mm")),
                name="catalogue_tirespec_limit_below_new",
                violation_error_message="The wear limit lies below the new tread depth: check both.",
            ),
            models.CheckConstraint(
                condition=models.Q(lower_kpa__isnull=True)
                | models.Q(upper_kpa__isnull=True)
                | models.Q(lower_kpa__lt=models.F("upper_kpa")),
                name="catalogue_tirespec_range_in_order",
                violation_error_message="The lower pressure limit lies below the upper one: check both.",
            ),
        ]

    def __str__(self) -> str:
        return " ".join(part for part in (str(self.line), self.size, self.compound) if part)


class PressureSpec(Noun):
    """A published pressure for a spec, or for one axle of a whole line."""

    class Basis(models.TextChoices):
        """In which state of the tire the value holds."""

        COLD = "cold", "Cold"
        HOT = "hot", "Hot"
        OFF_WARMERS = "off_warmers", "Off the warmers"

    class Use(models.TextChoices):
        """What the value is for."""

        ROAD = "road", "Road"
        TRACK = "track", "Track"

    line = models.ForeignKey(TireLine, models.CASCADE, related_name="pressure_specs")
    spec = models.ForeignKey(TireSpec, models.CASCADE, null=True, blank=True, related_name="pressure_specs")
    axle = models.CharField(max_length=5, choices=Axle)
    basis = models.CharField(max_length=12, choices=Basis)
    use = models.CharField(max_length=5, choices=Use, default=Use.TRACK)
    pressure_kpa = models.FloatField(validators=GAUGE_KPA)
    reference_c = models.FloatField(null=True, blank=True)
    published_by = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["spec", "axle", "basis", "use"],
                condition=models.Q(spec__isnull=False),
                name="catalogue_pressurespec_once_a_spec",
            ),
            models.UniqueConstraint(
                fields=["line", "axle", "basis", "use"],
                condition=models.Q(spec__isnull=True),
                name="catalogue_pressurespec_once_a_line",
            ),
        ]


class ReferenceNote(Noun):
    """A pressure somebody reported elsewhere for a tire, with the conditions it was used in.

    One that testers gathered belongs to their organisation and counts in its tests; without one it is everybody's.
    """

    spec = models.ForeignKey(TireSpec, models.CASCADE, related_name="reference_notes")
    organisation = models.ForeignKey(
        Organisation, models.PROTECT, null=True, blank=True, related_name="reference_notes"
    )
    basis = models.CharField(max_length=12, choices=PressureSpec.Basis)
    pressure_kpa = models.FloatField(validators=GAUGE_KPA)
    air_c = models.FloatField(null=True, blank=True)
    track_surface_c = models.FloatField(null=True, blank=True)
    track_name = models.CharField(max_length=100, blank=True)
    pace = models.CharField(max_length=40, blank=True)
    noted_on = models.DateField()
    source = models.CharField(max_length=200)
