"""Reservations: tires a vendor keeps for a rider until a day."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Date, In, Key, Related, Text, Whole
from api.views import Listed
from fleet.inventory.actions import confirm_reservation, end_reservation, reserve, set_aside
from fleet.inventory.availability import reservations_for
from fleet.inventory.reservation import Reservation


class ReservationOut(serializers.ModelSerializer[Reservation]):
    """Tires kept for a rider: how many, how many of them were taken, and how far it has come."""

    rider_name = serializers.CharField(source="rider.name")
    vendor_name = serializers.CharField(source="vendor.name")
    spec_code = serializers.CharField(source="spec.code")
    taken = serializers.IntegerField(help_text="Tires handed over so far.")
    state = serializers.ChoiceField(Reservation.State.choices)

    class Meta:
        model = Reservation
        fields = [
            "id",
            "rider",
            "rider_name",
            "vendor",
            "vendor_name",
            "spec",
            "spec_code",
            "quantity",
            "taken",
            "wanted_on",
            "state",
            "kept_at",
            "ready_at",
            "ended_at",
            "end_reason",
            "recorded_at",
        ]


class ReservationIn(In):
    """Tires to keep; `/offers` says which vendor has enough. For somebody else a vendor's crew writes it down."""

    rider = Related(scopes.riders)
    vendor = Related(scopes.vendors)
    spec = Related(scopes.specs)
    quantity = Whole(min_value=1, max_value=999, help_text="Tires; a rider keeps at most four of a kind.")
    wanted_on = Date(help_text="The day at the track.")
    key = Key()


class EndIn(In):
    """Why the tires are let go: a vendor's crew says it, the rider reads it; a rider's own reason is not kept."""

    reason = Text(max_length=200, required=False, allow_blank=True)


class ReservationFilters(Filters):
    """Filters of reservations."""

    rider = by_id("rider")
    vendor = by_id("vendor")
    spec = by_id("spec")
    wanted_on = filters.DateFilter()
    state = filters.ChoiceFilter(choices=Reservation.State.choices)


class ReservationView(Listed[Reservation]):
    """Reservations, those of the latest day first."""

    queryset = Reservation.objects.none()
    serializer_class = ReservationOut
    filterset_class = ReservationFilters

    def get_queryset(self) -> QuerySet[Reservation]:
        """Return the asker's own reservations and those at their vendors."""
        return reservations_for(self.by)

    @takes(ReservationIn, ReservationOut, 201)
    def create(self, _request: Request) -> Response:
        """Keep tires for a rider; what is kept is not sold to others."""
        return self.created(reserve(by=self.by, at=self.at, **self.given(ReservationIn)))

    @takes(None, ReservationOut, 200)
    @action(detail=True, methods=["post"])
    def confirm(self, _request: Request, **_address: str) -> Response:
        """Tell the rider that the tires are kept."""
        row = self.get_object()
        return self.answer(confirm_reservation(by=self.by, at=self.at, reservation=row))

    @takes(None, ReservationOut, 200)
    @action(detail=True, methods=["post"], url_path="set-aside")
    def set_aside(self, _request: Request, **_address: str) -> Response:
        """Put the tires by on the trailer, and tell the rider that they are ready."""
        row = self.get_object()
        return self.answer(set_aside(by=self.by, at=self.at, reservation=row))

    @takes(EndIn, ReservationOut, 200)
    @action(detail=True, methods=["post"])
    def end(self, _request: Request, **_address: str) -> Response:
        """Let the tires go that are not taken yet."""
        row = self.get_object()
        return self.answer(end_reservation(by=self.by, at=self.at, reservation=row, **self.given(EndIn)))
