"""Shapes: roll-outs, gaps and ride heights."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import BatchOut, batch_of
from api.filters import filters
from api.schema import takes
from api.serializers import Choice, Number, Related
from api.v1.readings import SHARED, ReadingFilters, ReadingIn, Readings
from fleet.running.actions import record_shape
from fleet.running.models import ShapeReading
from fleet.running.queries import shapes_for


class ShapeOut(serializers.ModelSerializer[ShapeReading]):
    """A length that tells a tire's size or the bike's stance."""

    class Meta:
        model = ShapeReading
        fields = [*SHARED, "quantity", "length_mm"]


class ShapeIn(ReadingIn):
    """A roll-out circumference, a gap or a ride height; testers name as ``vendor`` the organisation they test for."""

    tire = Related(scopes.tires_to_measure)
    quantity = Choice(ShapeReading.Quantity.choices)
    length_mm = Number()


ShapeBatchIn = batch_of(ShapeIn)


class ShapeFilters(ReadingFilters):
    """Filters of shapes."""

    quantity = filters.ChoiceFilter(choices=ShapeReading.Quantity.choices)


class ShapeView(Readings[ShapeReading]):
    """Shapes."""

    queryset = ShapeReading.objects.none()
    serializer_class = ShapeOut
    filterset_class = ShapeFilters

    def get_queryset(self) -> QuerySet[ShapeReading]:
        """Return the shapes the asker may see."""
        return shapes_for(self.by)

    @takes(ShapeIn, ShapeOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down a length."""
        return self.created(record_shape(by=self.by, at=self.at, **self.given(ShapeIn)))

    @takes(ShapeBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Write down many lengths at once, each stored or refused by itself."""
        return self.each(ShapeBatchIn, record_shape)
