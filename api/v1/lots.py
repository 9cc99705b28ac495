"""Lots: what a vendor has, where, and how it got there."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Amount, Choice, In, Key, Moment, Related, Text, Whole
from api.views import Listed
from fleet.inventory.actions import load_stock, receive_lot
from fleet.inventory.models import Lot, Place
from fleet.inventory.recalls import is_lot_recalled


class LotOut(serializers.ModelSerializer[Lot]):
    """One delivery, with what is left of it at each place: the sum of its ledger."""

    spec_code = serializers.CharField(source="spec.code")
    in_store = serializers.IntegerField(help_text="Tires left in the store.")
    on_trailer = serializers.IntegerField(help_text="Tires left on the trailer.")
    is_recalled = serializers.BooleanField(help_text="A recall touches it: nothing of it is fitted or sold.")

    class Meta:
        model = Lot
        fields = [
            "id",
            "vendor",
            "spec",
            "spec_code",
            "code",
            "date_code",
            "made_on",
            "unit_cost",
            "in_store",
            "on_trailer",
            "is_recalled",
        ]


class LotIn(In):
    """A delivery to take into stock."""

    vendor = Related(scopes.own_organisations)
    spec = Related(scopes.specs)
    code = Text(max_length=40)
    date_code = Text(max_length=20, help_text="Week and year of make as on the sidewall, such as 0826.")
    quantity = Whole(min_value=1, help_text="Tires delivered.")
    received_at = Moment()
    place = Choice(Place.choices, required=False)
    unit_cost = Amount(max_digits=9, decimal_places=2, required=False, allow_null=True)
    key = Key()


class LoadIn(In):
    """Tires to move from the store to the trailer; a negative quantity moves them back."""

    quantity = Whole(help_text="Tires moved to the trailer; negative: back to the store.")
    loaded_at = Moment()
    key = Key()


class LotFilters(Filters):
    """Filters of lots."""

    code = filters.CharFilter()
    vendor = by_id("vendor")
    spec = by_id("spec")


class LotView(Listed[Lot]):
    """Lots."""

    queryset = Lot.objects.none()
    serializer_class = LotOut
    filterset_class = LotFilters

    def get_queryset(self) -> QuerySet[Lot]:
        """Return the lots of the asker's vendors."""
        return scopes.lots(self.by, self.at).annotate(is_recalled=is_lot_recalled())

    @takes(LotIn, LotOut, 201)
    def create(self, _request: Request) -> Response:
        """Take a delivery into stock."""
        return self.created(receive_lot(by=self.by, at=self.at, **self.given(LotIn)))

    @takes(LoadIn, LotOut, 200)
    @action(detail=True, methods=["post"])
    def load(self, _request: Request, **_address: str) -> Response:
        """Move tires of a lot between the store and the trailer."""
        lot = self.get_object()
        load_stock(by=self.by, at=self.at, lot=lot, **self.given(LoadIn))
        return self.answer(lot)
