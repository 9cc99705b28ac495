"""Holds: tires that must not be used."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, TruthFilter, by_id
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Related, Text
from api.views import Listed
from fleet.inventory.actions import lift_hold, place_hold
from fleet.inventory.models import Hold


class HoldOut(serializers.ModelSerializer[Hold]):
    """A tire that must not be used until the hold is lifted."""

    label_code = serializers.CharField(source="tire.label_code")
    placed_for_name = serializers.CharField(source="placed_for.name")

    class Meta:
        model = Hold
        fields = [
            "id",
            "tire",
            "label_code",
            "placed_for",
            "placed_for_name",
            "reason",
            "note",
            "placed_at",
            "lifted_at",
            "lift_reason",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class HoldIn(In):
    """A tire to stop, and for whom."""

    tire = Related(scopes.tires)
    placed_for = Related(scopes.own_organisations)
    reason = Choice(Hold.Reason.choices)
    placed_at = Moment()
    note = Text(max_length=300, required=False, allow_blank=True)
    key = Key()


class LiftIn(In):
    """What was checked before the tire may be used again."""

    reason = Text(max_length=300)


class HoldFilters(FactFilters):
    """Filters of holds."""

    tire = by_id("tire")
    rider = by_id("tire__owner")
    placed_for = by_id("placed_for")
    is_open = TruthFilter(field_name="lifted_at", lookup_expr="isnull", label="true: only holds not lifted.")


class HoldView(Listed[Hold]):
    """Holds."""

    queryset = Hold.objects.none()
    serializer_class = HoldOut
    filterset_class = HoldFilters

    def get_queryset(self) -> QuerySet[Hold]:
        """Return the holds the asker may see."""
        return scopes.holds(self.by, self.at)

    @takes(HoldIn, HoldOut, 201)
    def create(self, _request: Request) -> Response:
        """Stop a tire from being used."""
        return self.created(place_hold(by=self.by, at=self.at, **self.given(HoldIn)))

    @takes(LiftIn, HoldOut, 200)
    @action(detail=True, methods=["post"])
    def lift(self, _request: Request, **_address: str) -> Response:
        """Let a tire be used again."""
        hold = self.get_object()
        return self.answer(lift_hold(by=self.by, at=self.at, hold=hold, **self.given(LiftIn)))
