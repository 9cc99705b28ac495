"""Tread surface temperature readings."""

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
from fleet.running.actions import record_temperature
from fleet.running.models import TemperatureReading, Zone


class TemperatureOut(serializers.ModelSerializer[TemperatureReading]):
    """A tread surface temperature at one zone."""

    class Meta:
        model = TemperatureReading
        fields = [*SHARED, "stint", "zone", "surface_c"]


class TemperatureIn(ReadingIn):
    """A tread surface temperature at one zone."""

    stint = Related(scopes.stints, required=False, allow_null=True)
    zone = Choice(Zone.choices)
    surface_c = Number()


TemperatureBatchIn = batch_of(TemperatureIn)


class TemperatureFilters(ReadingFilters):
    """Filters of temperature readings."""

    stint = by_id("stint")
    day = by_id("stint__day")
    zone = filters.ChoiceFilter(choices=Zone.choices)


class TemperatureView(Readings[TemperatureReading]):
    """Tread surface temperature readings."""

    queryset = TemperatureReading.objects.none()
    serializer_class = TemperatureOut
    filterset_class = TemperatureFilters

    def get_queryset(self) -> QuerySet[TemperatureReading]:
        """Return the temperatures the asker may see."""
        return scopes.temperatures(self.by, self.at)

    @takes(TemperatureIn, TemperatureOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down a tread surface temperature."""
        return self.created(record_temperature(by=self.by, at=self.at, **self.given(TemperatureIn)))

    @takes(TemperatureBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Write down many tread surface temperatures at once, each stored or refused by itself."""
        return self.each(TemperatureBatchIn, record_temperature)
