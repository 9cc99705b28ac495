"""Pressure readings."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import BatchOut, batch_of
from api.filters import by_id, filters
from api.schema import takes
from api.serializers import Choice, Number, Related
from api.v1.readings import SHARED, ReadingFilters, ReadingIn, Readings
from fleet.running.actions import record_pressure
from fleet.running.models import PressureReading
from fleet.running.queries import pressures_for


class PressureOut(serializers.ModelSerializer[PressureReading]):
    """A pressure, corrected for its gauge's known offset; ``doubt`` says why it may be wrong."""

    class Meta:
        model = PressureReading
        fields = [*SHARED, "stint", "moment", "pressure_kpa", "tire_c"]


class PressureIn(ReadingIn):
    """A pressure as the gauge showed it."""

    stint = Related(scopes.stints, required=False, allow_null=True)
    moment = Choice(PressureReading.Moment.choices)
    pressure_kpa = Number()
    tire_c = Number(required=False, allow_null=True)


PressureBatchIn = batch_of(PressureIn)


class PressureFilters(ReadingFilters):
    """Filters of pressure readings."""

    stint = by_id("stint")
    day = by_id("stint__day")
    moment = filters.ChoiceFilter(choices=PressureReading.Moment.choices)


class PressureView(Readings[PressureReading]):
    """Pressure readings."""

    queryset = PressureReading.objects.none()
    serializer_class = PressureOut
    filterset_class = PressureFilters

    def get_queryset(self) -> QuerySet[PressureReading]:
        """Return the pressures the asker may see."""
        return pressures_for(self.by, on=self.at.date())

    @takes(PressureIn, PressureOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down a pressure."""
        return self.created(record_pressure(by=self.by, at=self.at, **self.given(PressureIn)))

    @takes(PressureBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Write down many pressures at once, each stored or refused by itself."""
        return self.each(PressureBatchIn, record_pressure)
