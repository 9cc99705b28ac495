"""Assessments and flags: what is left in each tire, and what a person must look at."""

from typing import Any, Final

from django.db.models import Exists, OuterRef, QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.filters import Filters, TruthFilter, by_id, filters
from api.schema import takes
from api.views import Listed
from fleet.life.actions import acknowledge_flag
from fleet.life.models import Assessment, Flag, State
from fleet.life.queries import newest_assessments, open_flags, tires_told_whole

# What was ridden and read on a tire, and its age; an event's crew gets the state and its limit without it.
USE: Final = (
    "distance_km",
    "road_km",
    "heat_cycles",
    "days_run",
    "depth_mm",
    "depth_zone",
    "age_years",
    "readings",
    "provenance",
)


class AssessmentOut(serializers.ModelSerializer[Assessment]):
    """What was last computed about one tire; what was ridden on it and its age are null for an event's crew."""

    label_code = serializers.CharField(source="tire.label_code")
    spec = serializers.UUIDField(source="tire.spec_id")
    rider = serializers.UUIDField(source="tire.owner_id")
    provenance = serializers.DictField(
        allow_null=True, help_text="The facts and the learned model behind the figures."
    )

    class Meta:
        model = Assessment
        fields = [
            "id",
            "tire",
            "label_code",
            "spec",
            "rider",
            "assessed_at",
            "tire_revision",
            "state",
            "binding_limit",
            "remaining_days_10",
            "remaining_days_50",
            "remaining_days_90",
            "chance_next_day",
            "distance_km",
            "road_km",
            "heat_cycles",
            "days_run",
            "depth_mm",
            "depth_zone",
            "age_years",
            "readings",
            "provenance",
        ]
        extra_kwargs: Final = {name: {"allow_null": True} for name in USE[:-1]}

    def to_representation(self, instance: Assessment) -> dict[str, Any]:
        """Return the row, without what was ridden where the asker may not read that."""
        shown = super().to_representation(instance)
        is_whole = instance.is_told_whole  # type: ignore[attr-defined]  # annotated by the view's query
        return shown if is_whole else shown | dict.fromkeys(USE)


class FlagOut(serializers.ModelSerializer[Flag]):
    """A tire a person must look at; only a fact clears it."""

    label_code = serializers.CharField(source="tire.label_code")
    rider = serializers.UUIDField(source="tire.owner_id")

    class Meta:
        model = Flag
        fields = [
            "id",
            "tire",
            "label_code",
            "rider",
            "state",
            "binding_limit",
            "raised_at",
            "acknowledged_at",
            "acknowledged_by",
        ]


class AssessmentFilters(Filters):
    """Filters of assessments."""

    tire = by_id("tire")
    rider = by_id("tire__owner")
    spec = by_id("tire__spec")
    state = filters.ChoiceFilter(choices=State.choices)


class FlagFilters(Filters):
    """Filters of flags."""

    tire = by_id("tire")
    rider = by_id("tire__owner")
    spec = by_id("tire__spec")
    state = filters.ChoiceFilter(choices=State.choices)
    is_acknowledged = TruthFilter(field_name="acknowledged_at", lookup_expr="isnull", exclude=True)


class AssessmentView(Listed[Assessment]):
    """Newest assessments, the nearest to its end first."""

    queryset = Assessment.objects.none()
    serializer_class = AssessmentOut
    filterset_class: Any = AssessmentFilters

    def get_queryset(self) -> QuerySet[Assessment]:
        """Return the newest assessment of each tire the asker may see."""
        on = self.at.date()
        whole = tires_told_whole(self.by, on=on).order_by().filter(pk=OuterRef("tire"))
        return newest_assessments(self.by, on=on).annotate(is_told_whole=Exists(whole))


class FlagView(Listed[Flag]):
    """Open flags, the oldest first."""

    queryset = Flag.objects.none()
    serializer_class = FlagOut
    filterset_class: Any = FlagFilters

    def get_queryset(self) -> QuerySet[Flag]:
        """Return the open flags of tires the asker may see."""
        return open_flags(self.by, on=self.at.date())

    @takes(None, FlagOut, 200)
    @action(detail=True, methods=["post"])
    def acknowledge(self, _request: Request, **_address: str) -> Response:
        """Note that a flag was seen."""
        return self.answer(acknowledge_flag(by=self.by, at=self.at, flag=self.get_object()))
