"""Guidance: the computed start pressures of a day, narrowed to the lines somebody may see."""

from datetime import datetime
from typing import Any

from django.db.models import Q
from rest_framework import serializers

from fleet.accounts.models import Person
from fleet.accounts.policy import SHARED_AFTER_EVENT, Right, may
from fleet.events.models import Day
from fleet.pressures.followed import as_drafted, as_issued
from fleet.pressures.models import Guidance, GuidanceLine, GuidancePart


class PartOut(serializers.ModelSerializer[GuidancePart]):
    """One part of the day, and the conditions its start pressures rest on; without a name nothing is told apart."""

    class Meta:
        model = GuidancePart
        fields = ["name", "starts_at", "ends_at", "conditions"]


class StartPressureOut(serializers.ModelSerializer[GuidanceLine]):
    """One start pressure with its interval; ``shown_kpa`` is the one to set, on the rider's own gauge and its step.

    Where somebody set it by hand, in this draft or in the bulletin in force, ``computed_kpa`` is what was worked out instead.
    """

    part = PartOut()
    spec_code = serializers.CharField(source="spec.code")
    group_name = serializers.CharField(source="group.name")
    computed_kpa = serializers.FloatField(
        source="by_hand.computed_kpa",
        default=None,
        allow_null=True,
        read_only=True,
        help_text="What was worked out, where shown_kpa was set by hand.",
    )
    is_beyond_range = serializers.BooleanField(
        source="by_hand.is_beyond_range",
        default=False,
        read_only=True,
        help_text="Set by hand beyond the range the maker allows: ask the event director first.",
    )

    class Meta:
        model = GuidanceLine
        fields = [
            "id",
            "part",
            "group",
            "group_name",
            "entry",
            "spec",
            "spec_code",
            "axle",
            "uses_warmers",
            "shown_kpa",
            "computed_kpa",
            "is_beyond_range",
            "start_kpa",
            "low_kpa",
            "high_kpa",
            "hot_target_kpa",
            "expected_hot_kpa",
            "tire_c",
            "expected_gas_c",
            "limit_hit",
            "basis",
            "readings",
            "moved_kpa",
            "moved_because",
        ]


class GuidanceOut(serializers.ModelSerializer[Guidance]):
    """The start pressures of one day, computed once for one state of its facts."""

    lines = StartPressureOut(many=True)

    class Meta:
        model = Guidance
        fields = ["id", "day", "conditions", "computed_at", "is_newest", "assumptions", "lines"]


def guidance_seen_by(by: Person, day: Day, guidance: Guidance, *, at: datetime) -> dict[str, Any]:
    """Return guidance with the lines somebody may see: the board's, their own, and with the right to it everybody's.

    What an entry shares ends 30 days after the day.
    """
    seen = Q()
    is_shared = day.date >= at.date() - SHARED_AFTER_EVENT
    if not (is_shared and may(by, Right.READ_ENTRANT_PRESSURES, day.event.organiser)):
        seen = Q(entry__isnull=True) | Q(entry__rider__person=by)
    lines = (
        guidance.lines.filter(seen)
        .select_related(
            "guidance", "part__conditions", "spec__line", "group", "entry__rider__person", "override"
        )
        .order_by(
            "part__starts_at", "group__name", "entry__number", "spec__code", "axle", "uses_warmers", "id"
        )
    )
    whole = GuidanceOut(guidance, context={}).fields
    shown: dict[str, Any] = {
        name: field.to_representation(field.get_attribute(guidance))
        for name, field in whole.items()
        if name != "lines"
    }
    told = as_issued(as_drafted(lines), at=at)
    return shown | {"lines": StartPressureOut(told, many=True).data}
