"""Fittings: which tire is, or was, on which axle, and its removal."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import Batched, BatchOut, batch_of
from api.filters import FactFilters, TruthFilter, by_id, filters, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Related, Text, VoidIn
from api.v1.removals import RemovalOut
from fleet.catalogue.models import Axle
from fleet.inventory.actions import fit_tire, remove_tire, replace_tire, void_fitting
from fleet.inventory.models import Fitting, Place, Removal
from fleet.inventory.queries import fittings_for


class FittingOut(serializers.ModelSerializer[Fitting]):
    """A tire on an axle from a time until its removal."""

    label_code = serializers.CharField(source="tire.label_code")
    spec = serializers.UUIDField(source="tire.spec_id")
    rider = serializers.UUIDField(source="wheel_pair.bike.rider_id")

    class Meta:
        model = Fitting
        fields = [
            "id",
            "tire",
            "label_code",
            "spec",
            "wheel_pair",
            "rider",
            "axle",
            "fitted_at",
            "removed_at",
            "vendor",
            "ticket",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class FittingIn(In):
    """A fitting of a tire from a lot (``lot``), or of one of the rider's own (``tire``)."""

    wheel_pair = Related(scopes.wheel_pairs)
    axle = Choice(Axle.choices)
    fitted_at = Moment()
    vendor = Related(scopes.own_organisations, required=False, allow_null=True)
    lot = Related(scopes.lots, required=False, allow_null=True)
    place = Choice(Place.choices, required=False)
    tire = Related(scopes.tires, required=False, allow_null=True)
    identification = Text(max_length=20, required=False, allow_blank=True)
    label_code = Text(max_length=12, required=False, allow_blank=True)
    ticket = Related(scopes.tickets, required=False, allow_null=True)
    despite_reserved = Text(
        max_length=200,
        required=False,
        allow_blank=True,
        help_text="Why a stock manager has fitted what others reserved.",
    )
    key = Key()


class ReplacementIn(In):
    """One tire off and another on in one step: why the old one comes off and where it goes, and the new one."""

    wheel_pair = Related(scopes.wheel_pairs)
    axle = Choice(Axle.choices)
    fitted_at = Moment()
    reason = Choice(Removal.Reason.choices)
    destination = Choice(Removal.Destination.choices)
    vendor = Related(scopes.own_organisations, required=False, allow_null=True)
    lot = Related(scopes.lots, required=False, allow_null=True)
    tire = Related(scopes.tires, required=False, allow_null=True)
    identification = Text(max_length=20, required=False, allow_blank=True)
    ticket = Related(scopes.tickets, required=False, allow_null=True)
    despite_reserved = Text(
        max_length=200,
        required=False,
        allow_blank=True,
        help_text="Why a stock manager has fitted what others reserved.",
    )
    key = Key()


class RemovalIn(In):
    """A removal; a tire that goes on hold does so at a vendor."""

    removed_at = Moment()
    reason = Choice(Removal.Reason.choices)
    destination = Choice(Removal.Destination.choices)
    vendor = Related(scopes.own_organisations, required=False, allow_null=True)
    key = Key()


FittingBatchIn = batch_of(FittingIn)


class FittingFilters(FactFilters):
    """Filters of fittings."""

    tire = by_id("tire")
    spec = by_id("tire__spec")
    wheel_pair = by_id("wheel_pair")
    rider = by_id("wheel_pair__bike__rider")
    ticket = by_id("ticket")
    axle = filters.ChoiceFilter(choices=Axle.choices)
    is_on = TruthFilter(
        field_name="removed_at", lookup_expr="isnull", label="true: only tires on a wheel now."
    )
    since = since("fitted_at")
    until = until("fitted_at")


class FittingView(Batched[Fitting]):
    """Fittings."""

    queryset = Fitting.objects.none()
    serializer_class = FittingOut
    filterset_class = FittingFilters

    def get_queryset(self) -> QuerySet[Fitting]:
        """Return the fittings the asker may see."""
        return fittings_for(self.by)

    @takes(FittingIn, FittingOut, 201)
    def create(self, _request: Request) -> Response:
        """Fit a tire; one from a lot leaves the stock in the same step."""
        return self.created(fit_tire(by=self.by, at=self.at, **self.given(FittingIn)))

    @takes(FittingBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Fit many tires at once, each stored or refused by itself."""
        return self.each(FittingBatchIn, fit_tire)

    @takes(ReplacementIn, FittingOut, 201)
    @action(detail=False, methods=["post"])
    def replace(self, _request: Request) -> Response:
        """Take the tire on an axle off and fit another at the same moment: both, or neither."""
        return self.created(replace_tire(by=self.by, at=self.at, **self.given(ReplacementIn)))

    @takes(RemovalIn, RemovalOut, 201)
    @action(detail=True, methods=["post"])
    def removal(self, _request: Request, **_address: str) -> Response:
        """Take the tire off."""
        fitting = self.get_object()
        removal = remove_tire(by=self.by, at=self.at, fitting=fitting, **self.given(RemovalIn))
        return Response(RemovalOut(removal).data, status=201)

    @takes(VoidIn, FittingOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a fitting as wrong; a tire from a lot goes back into its stock."""
        fitting = self.get_object()
        return self.answer(void_fitting(by=self.by, at=self.at, fitting=fitting, **self.given(VoidIn)))
