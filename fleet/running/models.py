"""What happens on track and is written down: stints, readings, adjustments, feel and surface notes."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.catalogue.models import GAUGE_KPA, TREAD_MM, Axle
from fleet.events.models import Day, Layout, celsius
from fleet.garage.models import Instrument, WheelPair
from fleet.inventory.models import Tire
from fleet.photos.models import Photo
from fleet.records import Fact


class Stint(Fact):
    """One stretch on track, or a ride on the road, between leaving and coming back; a wheel pair's never overlap."""

    wheel_pair = models.ForeignKey(WheelPair, models.PROTECT, related_name="stints")
    day = models.ForeignKey(Day, models.PROTECT, null=True, blank=True, related_name="stints")
    layout = models.ForeignKey(Layout, models.PROTECT, null=True, blank=True, related_name="stints")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    laps = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(400)])
    distance_km = models.FloatField(validators=[MinValueValidator(0.1), MaxValueValidator(2000)])
    effort = models.FloatField(
        null=True,
        blank=True,
        validators=[
            MinValueValidator(
                0.3, "Effort is a share of your own full pace, 0.3 to 1.1: 0.9 means nine tenths."
            ),
            MaxValueValidator(
                1.1, "Effort is a share of your own full pace, 0.3 to 1.1: 0.9 means nine tenths."
            ),
        ],
    )
    warmers_c = models.FloatField(null=True, blank=True, validators=celsius(30, 120))
    lap_times_s = models.JSONField(default=list, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(ended_at__gt=F("started_at")),
                name="running_stint_ends_after_it_starts",
                violation_error_message="A stint ends after it starts: check both times.",
            ),
        ]
        indexes = [
            models.Index(fields=["wheel_pair", "started_at"], name="running_stint_of_pair"),
            models.Index(fields=["day"], name="running_stint_of_day"),
        ]

    @property
    def is_on_road(self) -> bool:
        """Whether it was a ride on the road: a stint without a layout."""
        return self.layout_id is None


class Reading(Fact):
    """What every reading of one tire shares; a doubtful one is kept with the doubt said."""

    tire = models.ForeignKey(Tire, models.PROTECT, related_name="%(class)ss")
    taken_at = models.DateTimeField()
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="+")
    doubt = models.CharField(max_length=300, blank=True)

    class Meta(Fact.Meta):
        abstract = True
        constraints = [*Fact.Meta.constraints]


class PressureReading(Reading):
    """A gauge pressure, already corrected for the instrument's offset."""

    class Moment(models.TextChoices):
        """When in a stint it was taken."""

        SET = "set", "Set before going out"
        OUT = "out", "Leaving the pits"
        IN = "in", "Coming in"
        LATER = "later", "Some time after coming in"

    stint = models.ForeignKey(Stint, models.PROTECT, null=True, blank=True, related_name="pressures")
    moment = models.CharField(max_length=5, choices=Moment)
    pressure_kpa = models.FloatField(validators=GAUGE_KPA)
    tire_c = models.FloatField(null=True, blank=True, validators=celsius(-20, 140))

    class Meta(Reading.Meta):
        indexes = [models.Index(fields=["tire", "taken_at"], name="running_pressure_of_tire")]


class Zone(models.TextChoices):
    """Where across the tread, seen from the saddle."""

    L2 = "L2", "Left shoulder"
    L1 = "L1", "Left"
    C = "C", "Centre"
    R1 = "R1", "Right"
    R2 = "R2", "Right shoulder"


class TreadReading(Reading):
    """A tread depth at one zone."""

    zone = models.CharField(max_length=2, choices=Zone)
    depth_mm = models.FloatField(validators=TREAD_MM)

    class Meta(Reading.Meta):
        indexes = [models.Index(fields=["tire", "zone", "taken_at"], name="running_tread_of_tire")]


class TemperatureReading(Reading):
    """A tread surface temperature at one zone."""

    stint = models.ForeignKey(Stint, models.PROTECT, null=True, blank=True, related_name="temperatures")
    zone = models.CharField(max_length=2, choices=Zone)
    surface_c = models.FloatField(validators=celsius(-20, 180))


class ShapeReading(Reading):
    """A length on the bike that tells the tire's size or the bike's stance."""

    class Quantity(models.TextChoices):
        """What was measured."""

        ROLL_OUT = "roll_out", "Roll-out circumference"
        GAP = "gap", "Gap to the nearest part"
        RIDE_HEIGHT = "ride_height", "Ride height"

    quantity = models.CharField(max_length=12, choices=Quantity)
    length_mm = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(2500)])


class ContourReading(Reading):
    """The outline of a tread across the tire: points of a contour gauge, left to right as seen from the saddle."""

    x_mm = models.JSONField()
    z_mm = models.JSONField()

    class Meta(Reading.Meta):
        indexes = [models.Index(fields=["tire", "taken_at"], name="running_contour_of_tire")]


class Adjustment(Fact):
    """One change to the bike between stints, in the unit of its adjuster."""

    class Part(models.TextChoices):
        """What was changed."""

        FRONT_PRESSURE = "front_pressure", "Front pressure"
        REAR_PRESSURE = "rear_pressure", "Rear pressure"
        FRONT_PRELOAD = "front_preload", "Front preload"
        REAR_PRELOAD = "rear_preload", "Rear preload"
        FRONT_COMPRESSION_LOW = "front_compression_low", "Front compression, low speed"
        FRONT_COMPRESSION_HIGH = "front_compression_high", "Front compression, high speed"
        REAR_COMPRESSION_LOW = "rear_compression_low", "Rear compression, low speed"
        REAR_COMPRESSION_HIGH = "rear_compression_high", "Rear compression, high speed"
        FRONT_REBOUND = "front_rebound", "Front rebound"
        REAR_REBOUND = "rear_rebound", "Rear rebound"
        FRONT_RIDE_HEIGHT = "front_ride_height", "Front ride height"
        REAR_RIDE_HEIGHT = "rear_ride_height", "Rear ride height"

    wheel_pair = models.ForeignKey(WheelPair, models.PROTECT, related_name="adjustments")
    part = models.CharField(max_length=24, choices=Part)
    before = models.FloatField(null=True, blank=True)
    after = models.FloatField()
    unit = models.CharField(max_length=12)
    made_at = models.DateTimeField()


class FeelNote(Fact):
    """What the rider felt in a stint, in one trade expression and free words."""

    class Feel(models.TextChoices):
        """Trade expressions."""

        GOOD = "good", "Good, planted"
        NO_GRIP = "no_grip", "No grip"
        SLIDES_FRONT = "slides_front", "Front slides"
        SLIDES_REAR = "slides_rear", "Rear slides"
        SQUIRMS = "squirms", "Squirms"
        MOVES = "moves", "Moves about under power"
        RUNS_WIDE = "runs_wide", "Runs wide on exit"
        HARSH = "harsh", "Harsh, skates"
        CHATTERS = "chatters", "Chatters"
        FLATTENS = "flattens", "Front flattens on the brakes"
        HEAVY = "heavy", "Heavy to turn"
        NERVOUS = "nervous", "Nervous"

    class Phase(models.TextChoices):
        """Where in the corner."""

        BRAKING = "braking", "Braking"
        ENTRY = "entry", "Entry"
        MID = "mid", "Mid-corner"
        EXIT = "exit", "Exit"

    stint = models.ForeignKey(Stint, models.PROTECT, related_name="feel_notes")
    feel = models.CharField(max_length=14, choices=Feel)
    phase = models.CharField(max_length=8, choices=Phase, blank=True)
    words = models.CharField(max_length=400, blank=True)


class SurfaceNote(Fact):
    """What a tread surface showed."""

    class Look(models.TextChoices):
        """Trade expressions."""

        EVEN = "even", "Even"
        ROLLED_GRAIN = "rolled_grain", "Rolled grain"
        COLD_TEAR = "cold_tear", "Cold tear"
        HOT_TEAR = "hot_tear", "Hot tear"
        EDGE_STEP = "edge_step", "Edge step"
        PICK_UP = "pick_up", "Pick-up"
        BLISTER = "blister", "Blister"
        CUT = "cut", "Cut"
        CORD = "cord", "Cord showing"

    tire = models.ForeignKey(Tire, models.PROTECT, related_name="surface_notes")
    seen_at = models.DateTimeField()
    look = models.CharField(max_length=14, choices=Look)
    zone = models.CharField(max_length=2, choices=Zone, blank=True)
    words = models.CharField(max_length=400, blank=True)
    photo = models.OneToOneField(Photo, models.PROTECT, null=True, blank=True, related_name="+")


class AdviceAnswer(Fact):
    """What a rider says of the next change that was advised after a stint, which is written down with the answer."""

    class Advised(models.TextChoices):
        """What was advised."""

        STAND_DOWN = "stand down", "Stand down"
        RANGE = "range", "Back into the range"
        PRESSURE = "pressure", "Another pressure"
        DAMPING = "damping", "Another damping"
        HEAT = "heat", "More or less heat"
        MEASURE = "measure", "Measure first"
        LEAVE_IT = "leave it", "Leave it"

    class Answer(models.TextChoices):
        """What the rider says: first whether it was done, after the following stint what came of it."""

        DONE = "done", "Done"
        NOT_DONE = "not_done", "Not done"
        BETTER = "better", "Better"
        SAME = "same", "No different"
        WORSE = "worse", "Worse"

    stint = models.ForeignKey(Stint, models.PROTECT, related_name="advice_answers")
    advised = models.CharField(max_length=10, choices=Advised)
    axle = models.CharField(max_length=5, choices=Axle, blank=True)
    change_kpa = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-100), MaxValueValidator(100)]
    )
    answer = models.CharField(max_length=8, choices=Answer)


class CycleCorrection(Fact):
    """An owner's word that a stint, in which a heat cycle was counted, did not warm a tire through."""

    tire = models.ForeignKey(Tire, models.PROTECT, related_name="cycle_corrections")
    stint = models.ForeignKey(Stint, models.PROTECT, related_name="cycle_corrections")

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            models.UniqueConstraint(
                fields=["tire", "stint"],
                condition=Q(voided_at__isnull=True),
                name="running_cyclecorrection_once",
                violation_error_message="This was said of the stint before; nothing was changed.",
            ),
        ]
