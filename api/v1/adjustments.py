"""Adjustments: changes to a bike between stints."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import Batched, BatchOut, batch_of
from api.filters import FactFilters, by_id, filters, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Number, Related, Text, VoidIn
from fleet.running.actions import adjust, void_adjustment
from fleet.running.models import Adjustment
from fleet.running.queries import adjustments_for


class AdjustmentOut(serializers.ModelSerializer[Adjustment]):
    """One change to a bike, in the unit of its adjuster."""

    before = serializers.FloatField(allow_null=True, help_text="In `unit`.")
    after = serializers.FloatField(help_text="In `unit`.")

    class Meta:
        model = Adjustment
        fields = [
            "id",
            "wheel_pair",
            "part",
            "before",
            "after",
            "unit",
            "made_at",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class AdjustmentIn(In):
    """A change to the bike these wheels are on, in the unit of its adjuster, such as clicks or mm."""

    wheel_pair = Related(scopes.wheel_pairs)
    part = Choice(Adjustment.Part.choices)
    before = Number(required=False, allow_null=True, help_text="In `unit`.")
    after = Number(help_text="In `unit`.")
    unit = Text(max_length=12, help_text="As the adjuster counts: clicks, turns, mm, psi.")
    made_at = Moment()
    key = Key()


AdjustmentBatchIn = batch_of(AdjustmentIn)


class AdjustmentFilters(FactFilters):
    """Filters of adjustments."""

    wheel_pair = by_id("wheel_pair")
    rider = by_id("wheel_pair__bike__rider")
    part = filters.ChoiceFilter(choices=Adjustment.Part.choices)
    since = since("made_at")
    until = until("made_at")


class AdjustmentView(Batched[Adjustment]):
    """Adjustments."""

    queryset = Adjustment.objects.none()
    serializer_class = AdjustmentOut
    filterset_class: Any = AdjustmentFilters

    def get_queryset(self) -> QuerySet[Adjustment]:
        """Return the adjustments of the asker's own bikes."""
        return adjustments_for(self.by)

    @takes(AdjustmentIn, AdjustmentOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down a change to the bike."""
        return self.created(adjust(by=self.by, at=self.at, **self.given(AdjustmentIn)))

    @takes(AdjustmentBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Write down many changes at once, each stored or refused by itself."""
        return self.each(AdjustmentBatchIn, adjust)

    @takes(VoidIn, AdjustmentOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark an adjustment as wrong."""
        row = self.get_object()
        void_adjustment(by=self.by, at=self.at, adjustment=row, **self.given(VoidIn))
        return self.answer(row)
