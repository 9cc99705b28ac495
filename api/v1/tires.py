"""Tires: each one by itself."""

from typing import Any, Final

from django.db.models import Exists, OuterRef, QuerySet
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
from fleet.inventory.recalls import is_tire_recalled
from fleet.life.queries import tires_told_whole

# Where and when a tire was made and how much is written about it; an event's crew gets the tire without it.
ORIGIN: Final = ("lot", "identification", "made_on", "revision")


class TireOut(serializers.ModelSerializer[Tire]):
    """One physical tire; its origin and age are null for an event's crew."""

    spec_code = serializers.CharField(source="spec.code")
    axle = serializers.ChoiceField(source="spec.axle", choices=Axle.choices)
    is_recalled = serializers.BooleanField(
        help_text="A recall touches it, or may until its sidewall was read."
    )

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
            "is_recalled",
            "revision",
        ]
        extra_kwargs: Final = {name: {"allow_null": True} for name in ORIGIN}

    def to_representation(self, instance: Tire) -> dict[str, Any]:
        """Return the row, without its origin where the asker may not read its whole life."""
        shown = super().to_representation(instance)
        is_whole = instance.is_told_whole  # type: ignore[attr-defined]  # annotated by the view's query
        return shown if is_whole else shown | dict.fromkeys(ORIGIN)


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
        whole = tires_told_whole(self.by, on=self.at.date()).order_by().filter(pk=OuterRef("pk"))
        return scopes.tires(self.by, self.at).annotate(
            is_told_whole=Exists(whole), is_recalled=is_tire_recalled()
        )

    @takes(TireIn, TireOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a tire a rider bought elsewhere."""
        return self.created(add_own_tire(by=self.by, at=self.at, **self.given(TireIn)))
