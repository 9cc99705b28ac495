"""Tread depth readings."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.batches import BatchOut, batch_of
from api.filters import filters
from api.schema import takes
from api.serializers import Choice, Number
from api.v1.readings import SHARED, ReadingFilters, ReadingIn, Readings
from fleet.running.actions import record_tread
from fleet.running.models import TreadReading, Zone
from fleet.running.queries import treads_for


class TreadOut(serializers.ModelSerializer[TreadReading]):
    """A tread depth at one zone; ``doubt`` says why it may be wrong."""

    class Meta:
        model = TreadReading
        fields = [*SHARED, "zone", "depth_mm"]


class TreadIn(ReadingIn):
    """A tread depth at one zone."""

    zone = Choice(Zone.choices)
    depth_mm = Number()


TreadBatchIn = batch_of(TreadIn)


class TreadFilters(ReadingFilters):
    """Filters of tread readings."""

    zone = filters.ChoiceFilter(choices=Zone.choices)


class TreadView(Readings[TreadReading]):
    """Tread depth readings."""

    queryset = TreadReading.objects.none()
    serializer_class = TreadOut
    filterset_class = TreadFilters

    def get_queryset(self) -> QuerySet[TreadReading]:
        """Return the tread depths the asker may see."""
        return treads_for(self.by)

    @takes(TreadIn, TreadOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down a tread depth."""
        return self.created(record_tread(by=self.by, at=self.at, **self.given(TreadIn)))

    @takes(TreadBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Write down many tread depths at once, each stored or refused by itself."""
        return self.each(TreadBatchIn, record_tread)
