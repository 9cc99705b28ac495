"""What was learned from everybody's facts, what it says about one tire, and what a person must look at."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.inventory.models import Tire
from fleet.records import Noun


class LearnedModel(Noun):
    """What was learned from all readings of one subject at one moment; the newest one counts.

    ``spreads`` holds the standard deviations and their degrees of freedom, ``levels`` the codes of products, tracks
    and riders in the order of the fit, ``packed`` the whole fit.
    """

    class Subject(models.TextChoices):
        """What was learned."""

        HEATING = "heating", "How hot tires get"
        WEAR = "wear", "How fast tread goes"

    subject = models.CharField(max_length=8, choices=Subject)
    learned_at = models.DateTimeField()
    rows = models.PositiveIntegerField()
    spreads = models.JSONField()
    levels = models.JSONField()
    packed = models.BinaryField()

    class Meta:
        indexes = [models.Index(fields=["subject", "-learned_at"], name="life_learnedmodel_newest")]


class State(models.TextChoices):
    """A tire's state, in the words the service shows everywhere."""

    FRESH = "fresh", "Fresh"
    IN_SERVICE = "in service", "In service"
    PLAN_A_CHANGE = "plan a change", "Plan a change"
    LAST_DAY = "last day", "Last day"
    STAND_DOWN = "stand down", "Stand down"


class Assessment(Noun):
    """What was computed about one tire at one moment, from the facts up to ``tire_revision`` and one learned model."""

    tire = models.ForeignKey(Tire, models.CASCADE, related_name="assessments")
    assessed_at = models.DateTimeField()
    assessed_on = models.DateField()
    tire_revision = models.PositiveIntegerField()
    learned = models.ForeignKey(LearnedModel, models.SET_NULL, null=True, blank=True, related_name="+")
    is_newest = models.BooleanField(default=True)
    state = models.CharField(max_length=14, choices=State)
    binding_limit = models.CharField(max_length=20)
    remaining_days_10 = models.FloatField()
    remaining_days_50 = models.FloatField()
    remaining_days_90 = models.FloatField()
    chance_next_day = models.FloatField()
    distance_km = models.FloatField()
    road_km = models.FloatField()
    heat_cycles = models.PositiveIntegerField()
    days_run = models.PositiveIntegerField()
    depth_mm = models.FloatField(null=True, blank=True)
    depth_zone = models.CharField(max_length=2, blank=True)
    age_years = models.FloatField(null=True, blank=True)
    readings = models.PositiveIntegerField()
    provenance = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tire"], condition=Q(is_newest=True), name="life_assessment_one_newest"
            ),
            models.CheckConstraint(
                condition=Q(chance_next_day__gte=0, chance_next_day__lte=1), name="life_assessment_chance"
            ),
        ]
        indexes = [models.Index(fields=["tire", "-assessed_at"], name="life_assessment_of_tire")]


class Flag(Noun):
    """An assessment that needs a person: raised once, acknowledged by somebody, cleared by a fact."""

    tire = models.ForeignKey(Tire, models.CASCADE, related_name="flags")
    state = models.CharField(max_length=14, choices=State)
    binding_limit = models.CharField(max_length=20)
    raised_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_because = models.CharField(max_length=100, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tire"], condition=Q(cleared_at__isnull=True), name="life_flag_one_open"
            )
        ]
