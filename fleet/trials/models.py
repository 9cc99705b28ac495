"""Tire tests: two sets compared on one bike, the steps planned for it, and the stints that are its runs."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.accounts.models import Organisation
from fleet.catalogue.models import AXLES, TireSpec
from fleet.events.models import Layout
from fleet.garage.models import Bike, WheelPair
from fleet.records import Fact, Noun
from fleet.running.models import Stint

TEETH = [MinValueValidator(8), MaxValueValidator(90)]


class Side(models.TextChoices):
    """Which of the two sets of a test."""

    BASELINE = "baseline", "Baseline"
    CANDIDATE = "candidate", "Candidate"


class Part(models.TextChoices):
    """The parts of a report that a tester may show."""

    VERDICT = "verdict", "The verdict in your own words"
    GEOMETRY = "geometry", "Geometry before and after"
    OUTLINES = "outlines", "Outlines of the treads"
    PRESSURES = "pressures", "Pressures"
    LAPS = "laps", "Laps"
    WEAR = "wear", "Wear"
    FEEL = "feel", "Feel"


class TireTest(Noun):
    """A planned comparison of two sets of tires on one bike; the sets are what was fitted of the specs named."""

    code = models.SlugField(unique=True, max_length=40)
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="tire_tests")
    bike = models.ForeignKey(Bike, models.CASCADE, related_name="tire_tests")
    question = models.CharField(max_length=200)
    held_constant = models.CharField(max_length=400, blank=True)
    ridden_by = models.CharField(max_length=120, blank=True)
    layout = models.ForeignKey(Layout, models.PROTECT, null=True, blank=True, related_name="+")
    planned_on = models.DateField()
    baseline_front = models.ForeignKey(TireSpec, models.PROTECT, related_name="+")
    baseline_rear = models.ForeignKey(TireSpec, models.PROTECT, related_name="+")
    baseline_pair = models.ForeignKey(WheelPair, models.PROTECT, related_name="+")
    candidate_front = models.ForeignKey(TireSpec, models.PROTECT, related_name="+")
    candidate_rear = models.ForeignKey(TireSpec, models.PROTECT, related_name="+")
    candidate_pair = models.ForeignKey(WheelPair, models.PROTECT, related_name="+")
    gearbox_teeth = models.PositiveSmallIntegerField(null=True, blank=True, validators=TEETH)
    wheel_teeth = models.PositiveSmallIntegerField(null=True, blank=True, validators=TEETH)
    mass_height_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(300), MaxValueValidator(1000)]
    )
    judged_on = models.DateField(null=True, blank=True)
    verdict = models.CharField(max_length=1500, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    final_remark = models.CharField(max_length=600, blank=True)
    public_code = models.CharField(max_length=40, unique=True, null=True, blank=True, editable=False)
    shown = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(
                    baseline_front=F("candidate_front"),
                    baseline_rear=F("candidate_rear"),
                    baseline_pair=F("candidate_pair"),
                ),
                name="trials_tiretest_compares_two_sets",
                violation_error_message=(
                    "Baseline and candidate are the same tires on the same wheels: name another spec, or another "
                    "wheel pair."
                ),
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(judged_on__isnull=False),
                name="trials_tiretest_ends_after_its_verdict",
                violation_error_message="A test ends after its verdict: write the verdict first.",
            ),
        ]

    def __str__(self) -> str:
        return self.question

    def specs(self, side: str) -> dict[str, TireSpec]:
        """Return the specs of one of the sets by axle."""
        return {axle: getattr(self, f"{side}_{axle}") for axle in AXLES}

    def pair(self, side: str) -> WheelPair:
        """Return the wheel pair one of the sets runs on."""
        pair: WheelPair = getattr(self, f"{side}_pair")
        return pair


class Step(Noun):
    """One thing to do in a test, in an order that is free to change."""

    class What(models.TextChoices):
        """What is usually done, in the trade's order."""

        MEASURE_BEFORE = "measure_before", "Measure on the baseline tires"
        BASELINE_RUN = "baseline_run", "Consistency run on the baseline tires"
        FIT = "fit", "Fit the candidate tires"
        MEASURE_AFTER = "measure_after", "Measure on the candidate tires"
        START_PRESSURE = "start_pressure", "Find and set a start pressure"
        SCRUB_IN = "scrub_in", "Scrub in"
        SETTLE = "settle", "Settle the pressures"
        ONE_CHANGE = "one_change", "Change one thing at a time, a stint for each"
        CONSISTENCY = "consistency", "Consistency run on the candidate tires"
        BACK = "back", "Back to the baseline, if time allows"
        OTHER = "other", "Something else"

    class State(models.TextChoices):
        """Whether it is done."""

        OPEN = "open", "To do"
        DONE = "done", "Done"
        SKIPPED = "skipped", "Skipped"

    test = models.ForeignKey(TireTest, models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField(validators=[MaxValueValidator(400)])
    what = models.CharField(max_length=16, choices=What)
    words = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(what="other", words=""),
                name="trials_step_other_says_what",
                violation_error_message="Say in a few words what is to be done.",
            ),
            models.UniqueConstraint(
                fields=["test", "position"],
                name="trials_step_one_a_place",
                violation_error_message="Another step stands at this place: give another position.",
            ),
        ]

    def __str__(self) -> str:
        return self.words if self.what == self.What.OTHER else str(self.get_what_display())


class Run(Fact):
    """A stint that counts in a test, on which of its sets, and what for."""

    class Purpose(models.TextChoices):
        """What the stint was ridden for."""

        SCRUB_IN = "scrub_in", "Scrubbing in"
        SETTLE = "settle", "Settling pressures"
        CHANGE = "change", "Trying one change"
        CONSISTENCY = "consistency", "Consistency run"

    test = models.ForeignKey(TireTest, models.CASCADE, related_name="runs")
    stint = models.ForeignKey(Stint, models.PROTECT, related_name="runs")
    side = models.CharField(max_length=9, choices=Side)
    purpose = models.CharField(max_length=12, choices=Purpose)
    words = models.CharField(max_length=400, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.UniqueConstraint(
                fields=["test", "stint"],
                condition=Q(voided_at__isnull=True),
                name="trials_run_once",
                violation_error_message="This stint is a run of the test already: void that run first.",
            ),
        ]
