"""Tires: each one by itself."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import In, Related, Text
from api.views import Listed
from fleet.catalogue.models import Axle
from fleet.inventory.actions import add_own_tire
from fleet.inventory.models import Tire


class TireOut(serializers.ModelSerializer[Tire]):
    """One physical tire."""

    spec_code = serializers.CharField(source="spec.code")
    axle = serializers.ChoiceField(source="spec.axle", choices=Axle.choices)

    class Meta:
        model = Tire
        fields = [
            "id",
            "spec",
            "spec_code",
            "axle",
            "owner",
            "lot",
            "label_code",
            "identification",
            "made_on",
            "revision",
        ]


class TireIn(In):
    """A tire bought elsewhere; without an identification number its age is unknown."""

    rider = Related(scopes.riders)
    spec = Related(scopes.specs)
    identification = Text(max_length=20, required=False, allow_blank=True)
    label_code = Text(max_length=12, required=False, allow_blank=True)
    vendor = Related(scopes.own_organisations, required=False, allow_null=True)


class TireFilters(Filters):
    """Filters of tires."""

    rider = by_id("owner")
    spec = by_id("spec")
    lot = by_id("lot")
    axle = filters.ChoiceFilter(field_name="spec__axle", choices=Axle.choices)
    label_code = filters.CharFilter()


class TireView(Listed[Tire]):
    """Tires."""

    queryset = Tire.objects.none()
    serializer_class = TireOut
    filterset_class = TireFilters

    def get_queryset(self) -> QuerySet[Tire]:
        """Return the tires the asker may see."""
        return scopes.tires(self.by, self.at)

    @takes(TireIn, TireOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a tire a rider bought elsewhere."""
        return self.created(add_own_tire(by=self.by, at=self.at, **self.given(TireIn)))
