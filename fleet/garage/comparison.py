"""The noun of a gauge compared with a better one; it stands in a file of its own beside the things of the garage."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.records import Fact

LEAST_KPA = MinValueValidator(50)
MOST_KPA = MaxValueValidator(700)


class GaugeComparison(Fact):
    """What a gauge and a better one, the master, showed on the same tire; the newest one says how far the gauge reads off.

    ``offset_kpa`` is the gauge's reading minus the truth: the master's own known offset is taken off.
    """

    instrument = models.ForeignKey("garage.Instrument", models.CASCADE, related_name="comparisons")
    master = models.ForeignKey(
        "garage.Instrument", models.SET_NULL, null=True, blank=True, related_name="comparisons_made"
    )
    own_kpa = models.FloatField(validators=[LEAST_KPA, MOST_KPA])
    master_kpa = models.FloatField(validators=[LEAST_KPA, MOST_KPA])
    offset_kpa = models.FloatField(validators=[MinValueValidator(-40), MaxValueValidator(40)])
    compared_at = models.DateTimeField()

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(master__isnull=True) | ~Q(master=F("instrument")),
                name="garage_gaugecomparison_two_gauges",
                violation_error_message="A gauge is compared with another one: choose the master.",
            ),
        ]
        indexes = [
            models.Index(fields=["instrument", "-compared_at"], name="garage_comparison_newest"),
        ]
