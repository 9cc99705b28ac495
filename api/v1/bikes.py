"""Bikes with their chassis data."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import In, Number, Related, Text
from api.views import Listed
from fleet.garage.actions import add_bike, correct_bike
from fleet.garage.models import Bike


class BikeOut(serializers.ModelSerializer[Bike]):
    """A rider's motorcycle."""

    class Meta:
        model = Bike
        fields = [
            "id",
            "rider",
            "code",
            "description",
            "wheelbase_mm",
            "rake_deg",
            "fork_offset_mm",
            "front_rim_in",
            "rear_rim_in",
        ]


class BikeIn(In):
    """A bike to add."""

    rider = Related(scopes.riders)
    code = Text(max_length=40)
    description = Text(max_length=60)
    wheelbase_mm = Number(required=False, allow_null=True)
    rake_deg = Number(required=False, allow_null=True)
    fork_offset_mm = Number(required=False, allow_null=True)
    front_rim_in = Number(required=False, allow_null=True)
    rear_rim_in = Number(required=False, allow_null=True)


class BikeCorrectionIn(In):
    """What to correct of a bike; what is left out stays."""

    description = Text(max_length=60, required=False)
    wheelbase_mm = Number(required=False, allow_null=True)
    rake_deg = Number(required=False, allow_null=True)
    fork_offset_mm = Number(required=False, allow_null=True)
    front_rim_in = Number(required=False, allow_null=True)
    rear_rim_in = Number(required=False, allow_null=True)


class BikeFilters(Filters):
    """Filters of bikes."""

    code = filters.CharFilter()
    rider = by_id("rider")


class BikeView(Listed[Bike]):
    """Bikes."""

    queryset = Bike.objects.none()
    serializer_class = BikeOut
    filterset_class = BikeFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Bike]:
        """Return the bikes the asker may see."""
        return scopes.bikes(self.by, self.at)

    @takes(BikeIn, BikeOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a bike of a rider."""
        return self.created(add_bike(by=self.by, **self.given(BikeIn)))

    @takes(BikeCorrectionIn, BikeOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a bike."""
        with self.unchanged() as bike:
            return self.answer(correct_bike(by=self.by, bike=bike, **self.given(BikeCorrectionIn)))
