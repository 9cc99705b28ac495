"""Contours: outlines of treads across the tire."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import BatchOut, batch_of
from api.schema import takes
from api.serializers import Number, Related
from api.v1.readings import SHARED, ReadingFilters, ReadingIn, Readings
from fleet.running.actions import record_contour
from fleet.running.models import ContourReading
from fleet.running.outlines import MOST_POINTS
from fleet.running.queries import contours_for


class ContourOut(serializers.ModelSerializer[ContourReading]):
    """Points of a contour gauge, left to right seen from the saddle."""

    x_mm = serializers.ListField(child=serializers.FloatField())
    z_mm = serializers.ListField(child=serializers.FloatField())

    class Meta:
        model = ContourReading
        fields = [*SHARED, "x_mm", "z_mm"]


class ContourIn(ReadingIn):
    """Places across and heights in mm, one for each point; testers name as ``vendor`` whom they test for."""

    tire = Related(scopes.tires_to_measure)
    x_mm = serializers.ListField(child=Number(), max_length=MOST_POINTS)
    z_mm = serializers.ListField(child=Number(), max_length=MOST_POINTS)


ContourBatchIn = batch_of(ContourIn)


class ContourView(Readings[ContourReading]):
    """Contours."""

    queryset = ContourReading.objects.none()
    serializer_class = ContourOut
    filterset_class = ReadingFilters

    def get_queryset(self) -> QuerySet[ContourReading]:
        """Return the contours the asker may see."""
        return contours_for(self.by)

    @takes(ContourIn, ContourOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down an outline."""
        return self.created(record_contour(by=self.by, at=self.at, **self.given(ContourIn)))

    @takes(ContourBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Write down many outlines at once, each stored or refused by itself."""
        return self.each(ContourBatchIn, record_contour)
