"""Guidance as the service computed it, bulletins as a person issued them."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.catalogue.models import Axle, TireSpec
from fleet.events.models import Conditions, Day, Entry, Group
from fleet.records import Noun

_AN_INSTANT: Final = timedelta(microseconds=1)


class Guidance(Noun):
    """The start pressures of one day, computed once for one state of its facts (``fingerprint``)."""

    day = models.ForeignKey(Day, models.CASCADE, related_name="guidances")
    fingerprint = models.CharField(max_length=64)
    computed_at = models.DateTimeField()
    conditions = models.ForeignKey(Conditions, models.PROTECT, related_name="+")
    is_newest = models.BooleanField(default=True)
    assumptions = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["day"], condition=Q(is_newest=True), name="pressures_guidance_one_newest"
            )
        ]
        indexes = [models.Index(fields=["day", "-computed_at"], name="pressures_guidance_of_day")]


class GuidancePart(Noun):
    """One part of a day in its guidance: its time, and the weather it rests on; without a name nothing is told apart."""

    guidance = models.ForeignKey(Guidance, models.CASCADE, related_name="parts")
    name = models.CharField(max_length=30, blank=True)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    conditions = models.ForeignKey(Conditions, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["guidance", "starts_at"], name="pressures_guidancepart_once"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=models.F("starts_at")), name="pressures_guidancepart_has_time"
            ),
        ]

    def __str__(self) -> str:
        return self.name or "the whole day"

    def nearest_to(self, moment: datetime) -> datetime:
        """Return the moment of this part that is nearest to another."""
        return max(self.starts_at, min(moment, self.ends_at - _AN_INSTANT))

    def holds(self, other: "GuidancePart") -> bool:
        """Return whether another part lies within this one."""
        return self.starts_at <= other.starts_at and other.ends_at <= self.ends_at


@dataclass(frozen=True)
class ByHand:
    """What was worked out for a line that shows a person's figure instead, that figure on a true gauge, and its bulletin, once issued."""

    set_kpa: float
    computed_kpa: float
    tire_c: float
    is_beyond_range: bool
    bulletin: int | None = None


class GuidanceLine(Noun):
    """One start pressure of a part of the day: for a spec in a group (public, no entry), or for one entry's own tire.

    ``by_hand`` and ``later`` are no columns: they are put there for whoever reads the line.
    """

    by_hand: ByHand | None = None
    later: tuple["GuidanceLine", ...] = ()

    guidance = models.ForeignKey(Guidance, models.CASCADE, related_name="lines")
    part = models.ForeignKey(GuidancePart, models.CASCADE, related_name="lines")
    group = models.ForeignKey(Group, models.CASCADE, related_name="+")
    entry = models.ForeignKey(Entry, models.CASCADE, null=True, blank=True, related_name="guidance_lines")
    spec = models.ForeignKey(TireSpec, models.PROTECT, related_name="+")
    axle = models.CharField(max_length=5, choices=Axle)
    uses_warmers = models.BooleanField(default=False)
    start_kpa = models.FloatField()
    low_kpa = models.FloatField()
    high_kpa = models.FloatField()
    shown_kpa = models.FloatField()
    hot_target_kpa = models.FloatField()
    expected_hot_kpa = models.FloatField()
    tire_c = models.FloatField()
    expected_gas_c = models.FloatField()
    limit_hit = models.CharField(max_length=5, blank=True)
    basis = models.CharField(max_length=20)
    readings = models.PositiveIntegerField()
    moved_kpa = models.FloatField(null=True, blank=True)
    moved_because = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["part", "entry", "axle"],
                condition=Q(entry__isnull=False),
                name="pressures_guidanceline_once_an_entry",
            ),
            models.UniqueConstraint(
                fields=["part", "group", "spec", "uses_warmers"],
                condition=Q(entry__isnull=True),
                name="pressures_guidanceline_once_a_spec",
            ),
            models.CheckConstraint(
                condition=Q(low_kpa__lte=models.F("high_kpa")), name="pressures_guidanceline_interval"
            ),
        ]


class Override(Noun):
    """What a person set in the place of one computed line, and why; it stands over later drafts until somebody takes it back."""

    line = models.OneToOneField(GuidanceLine, models.CASCADE, related_name="override")
    set_kpa = models.FloatField()
    reason = models.CharField(max_length=300)
    is_beyond_range = models.BooleanField(default=False)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="pressures_override_has_reason"),
            models.CheckConstraint(condition=Q(set_kpa__gt=0), name="pressures_override_is_a_pressure"),
        ]


class Bulletin(Noun):
    """Guidance checked and issued by a person: numbered, dated, frozen; superseded or withdrawn, never edited."""

    day = models.ForeignKey(Day, models.PROTECT, related_name="bulletins")
    number = models.PositiveSmallIntegerField()
    guidance = models.ForeignKey(Guidance, models.PROTECT, related_name="bulletins")
    content = models.JSONField()
    digest = models.CharField(max_length=64)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    superseded_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["day", "number"], name="pressures_bulletin_number"),
            models.UniqueConstraint(
                fields=["day"],
                condition=Q(superseded_at__isnull=True, withdrawn_at__isnull=True),
                name="pressures_bulletin_one_in_force",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False) & ~Q(withdrawn_because="")),
                name="pressures_bulletin_withdrawn_with_reason",
            ),
        ]
