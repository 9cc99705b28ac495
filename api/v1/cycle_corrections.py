"""Cycle corrections: stints that did not warm a tire through, by its owner's word."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, since, until
from api.schema import takes
from api.serializers import In, Key, Related, VoidIn
from api.views import Listed
from fleet.running.actions import correct_cycle, void_cycle_correction
from fleet.running.models import CycleCorrection


class CycleCorrectionOut(serializers.ModelSerializer[CycleCorrection]):
    """A stint that did not warm a tire through."""

    class Meta:
        model = CycleCorrection
        fields = ["id", "tire", "stint", "recorded_by", "recorded_at", "voided_at", "void_reason"]


class CycleCorrectionIn(In):
    """The tire and the stint."""

    tire = Related(scopes.tires)
    stint = Related(scopes.stints)
    key = Key()


class CycleCorrectionFilters(FactFilters):
    """Filters of cycle corrections."""

    tire = by_id("tire")
    stint = by_id("stint")
    since = since("stint__started_at")
    until = until("stint__started_at")


class CycleCorrectionView(Listed[CycleCorrection]):
    """Cycle corrections."""

    queryset = CycleCorrection.objects.none()
    serializer_class = CycleCorrectionOut
    filterset_class = CycleCorrectionFilters

    def get_queryset(self) -> QuerySet[CycleCorrection]:
        """Return the corrections the asker may see."""
        return scopes.cycle_corrections(self.by, self.at)

    @takes(CycleCorrectionIn, CycleCorrectionOut, 201)
    def create(self, _request: Request) -> Response:
        """Say that a stint did not take a tire through a heat cycle."""
        return self.created(correct_cycle(by=self.by, at=self.at, **self.given(CycleCorrectionIn)))

    @takes(VoidIn, CycleCorrectionOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a correction as wrong: the heat cycle counts again."""
        correction = self.get_object()
        void_cycle_correction(by=self.by, at=self.at, correction=correction, **self.given(VoidIn))
        return self.answer(correction)
