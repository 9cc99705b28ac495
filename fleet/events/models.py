"""Tracks and layouts, events and their days, groups, slots, entries, and the conditions of a day."""

import secrets
import zoneinfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.accounts.models import Organisation
from fleet.garage.models import Bike, Rider
from fleet.records import Fact, Noun


def check_time_zone(name: str) -> None:
    """Refuse a name that the time zone database does not know."""
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError) as error:
        raise ValidationError(f"{name!r} is no time zone: use a name such as Europe/London.") from error


def celsius(low: float, high: float) -> list[MinValueValidator | MaxValueValidator]:
    """Return validators for a temperature of the weather."""
    sentence = f"A temperature between {low:g} and {high:g} °C is expected: check the unit."
    return [MinValueValidator(low, sentence), MaxValueValidator(high, sentence)]


class Track(Noun):
    """A circuit with its place on earth."""

    code = models.SlugField(unique=True, max_length=40)
    name = models.CharField(max_length=100)
    latitude_deg = models.FloatField(validators=[MinValueValidator(-90), MaxValueValidator(90)])
    longitude_deg = models.FloatField(validators=[MinValueValidator(-180), MaxValueValidator(180)])
    altitude_m = models.FloatField(validators=[MinValueValidator(-430), MaxValueValidator(5000)])
    time_zone = models.CharField(max_length=40, validators=[check_time_zone])

    def __str__(self) -> str:
        return self.name


class Layout(Noun):
    """One way of running a track."""

    track = models.ForeignKey(Track, models.CASCADE, related_name="layouts")
    code = models.SlugField(unique=True, max_length=40)
    name = models.CharField(max_length=60)
    length_km = models.FloatField(validators=[MinValueValidator(0.2), MaxValueValidator(30)])

    def __str__(self) -> str:
        return f"{self.track}, {self.name}"


class Event(Noun):
    """One or several days at a track run by an organiser; where it takes entries, riders enter themselves."""

    organiser = models.ForeignKey(Organisation, models.PROTECT, related_name="events")
    code = models.SlugField(unique=True, max_length=60)
    name = models.CharField(max_length=100)
    takes_entries = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name


def new_public_code() -> str:
    """Return a code for a public address that nobody can guess."""
    return secrets.token_urlsafe(12)


class DayParts(models.TextChoices):
    """The parts of a day that get start pressures of their own."""

    THREE = "three", "Morning, midday, afternoon"
    HOURS = "hours", "Every hour"


class Day(Noun):
    """A date of an event on one layout; ``revision`` grows whenever what its guidance rests on changes."""

    event = models.ForeignKey(Event, models.CASCADE, related_name="days")
    date = models.DateField()
    layout = models.ForeignKey(Layout, models.PROTECT, related_name="days")
    parts = models.CharField(max_length=5, choices=DayParts, default=DayParts.THREE)
    public_code = models.CharField(max_length=24, unique=True, default=new_public_code)
    revision = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["event", "date"], name="events_day_once")]
        indexes = [models.Index(fields=["date"], name="events_day_by_date")]

    def __str__(self) -> str:
        return f"{self.event}, {self.date:%a %d %b %Y}"


class Group(Noun):
    """Riders of one pace who are on track together."""

    event = models.ForeignKey(Event, models.CASCADE, related_name="groups")
    name = models.CharField(max_length=40)
    usual_lap_s = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(20), MaxValueValidator(900)]
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["event", "name"], name="events_group_once")]

    def __str__(self) -> str:
        return self.name


class Slot(Noun):
    """One stretch of time in which a group is on track."""

    day = models.ForeignKey(Day, models.CASCADE, related_name="slots")
    group = models.ForeignKey(Group, models.CASCADE, related_name="slots")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["day", "group", "starts_at"], name="events_slot_once"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")),
                name="events_slot_ends_after_it_starts",
                violation_error_message="A slot ends after it starts: check both times.",
            ),
        ]


class Entry(Noun):
    """A rider with a bike in a group on a day."""

    day = models.ForeignKey(Day, models.CASCADE, related_name="entries")
    rider = models.ForeignKey(Rider, models.PROTECT, related_name="entries")
    bike = models.ForeignKey(Bike, models.PROTECT, related_name="entries")
    group = models.ForeignKey(Group, models.PROTECT, related_name="entries")
    number = models.CharField(max_length=6)
    uses_warmers = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["day", "bike"],
                name="events_entry_bike_once",
                violation_error_message="This bike is entered that day already: look at that entry, or enter another bike.",
            ),
            models.UniqueConstraint(
                fields=["day", "number"],
                name="events_entry_number_once",
                violation_error_message="That number rides already that day: give another one.",
            ),
        ]
        indexes = [models.Index(fields=["rider", "day"], name="events_entry_of_rider")]


class CalendarLink(Noun):
    """A secret address from which a rider's calendar reads their times on track; only a digest of it is stored."""

    rider = models.ForeignKey(Rider, models.CASCADE, related_name="calendar_links")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["rider"], condition=Q(ended_at__isnull=True), name="events_calendarlink_one_open"
            )
        ]


class Standing(models.TextChoices):
    """How well a weather value is known."""

    OBSERVED = "observed", "Observed"
    FORECAST = "forecast", "Forecast"
    ESTIMATED = "estimated", "Estimated"


class Conditions(Fact):
    """The weather of a day at one moment; the barometer is the pressure at the track itself, not an altimeter setting."""

    day = models.ForeignKey(Day, models.CASCADE, related_name="conditions")
    holds_at = models.DateTimeField()
    standing = models.CharField(max_length=10, choices=Standing)
    source = models.CharField(max_length=300)
    air_c = models.FloatField(validators=celsius(-40, 60))
    dew_point_c = models.FloatField(null=True, blank=True, validators=celsius(-60, 40))
    barometer_kpa = models.FloatField(
        validators=[
            MinValueValidator(
                50, "A barometer under 50 kPa (500 hPa) is not plausible: give kPa at the track."
            ),
            MaxValueValidator(
                110, "A barometer over 110 kPa (1100 hPa) is not plausible: give kPa at the track."
            ),
        ]
    )
    barometer_standing = models.CharField(max_length=10, choices=Standing)
    track_surface_c = models.FloatField(validators=celsius(-30, 85))
    track_surface_standing = models.CharField(max_length=10, choices=Standing)
    cloud_fraction = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(1)]
    )

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints]
        indexes = [models.Index(fields=["day", "holds_at"], name="events_conditions_in_order")]
