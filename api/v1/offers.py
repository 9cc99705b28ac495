"""Offers: what vendors ask for a tire, and whether they have enough of it that is not kept for others."""

from typing import Any

from django import forms
from django.db.models import BooleanField, ExpressionWrapper, Q, QuerySet
from rest_framework import serializers

from api.filters import Filters, by_id, filters
from api.views import Listed
from fleet.inventory.actions.reservations import MOST_OF_A_KIND
from fleet.inventory.availability import offers
from fleet.inventory.models import Listing


class OfferOut(serializers.ModelSerializer[Listing]):
    """What one vendor asks for one tire of a spec; how many it has is its own affair."""

    vendor_name = serializers.CharField(source="vendor.name")
    spec_code = serializers.CharField(source="spec.code")
    currency = serializers.CharField(source="vendor.currency")
    has_enough = serializers.BooleanField(help_text="Whether as many are free as `quantity` asks for.")

    class Meta:
        model = Listing
        fields = ["id", "vendor", "vendor_name", "spec", "spec_code", "price", "currency", "has_enough"]


class _QuantityField(forms.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=MOST_OF_A_KIND, **kwargs)


class _Quantity(filters.NumberFilter):  # type: ignore[misc]  # the library has no types
    field_class = _QuantityField


class OfferFilters(Filters):
    """Filters of offers."""

    vendor = by_id("vendor")
    spec = by_id("spec")
    quantity = _Quantity(method="enough_for", label="How many are wanted, 1 to 4; one where it is left out.")

    def enough_for(self, rows: QuerySet[Listing], _name: str, value: int) -> QuerySet[Listing]:
        """Return the offers with whether that many are free."""
        return with_enough(rows, int(value))


class OfferView(Listed[Listing]):
    """Offers of all vendors."""

    queryset = Listing.objects.none()
    serializer_class = OfferOut
    filterset_class: Any = OfferFilters

    def get_queryset(self) -> QuerySet[Listing]:
        """Return what every vendor sells: prices are no secret, counts are."""
        return with_enough(offers(), 1)


def with_enough(rows: QuerySet[Listing], quantity: int) -> QuerySet[Listing]:
    """Return listings with whether so many tires of each are free."""
    columns: dict[str, Any] = {
        "has_enough": ExpressionWrapper(Q(free__gte=quantity), output_field=BooleanField())
    }
    return rows.annotate(**columns)
