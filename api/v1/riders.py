"""Riders: one's own record and a vendor's customers."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, filters
from api.schema import takes
from api.serializers import In, Related, Text
from api.views import Listed
from fleet.garage.actions import correct_rider, register_rider
from fleet.garage.models import Rider


class RiderOut(serializers.ModelSerializer[Rider]):
    """A person who rides, with or without an account."""

    class Meta:
        model = Rider
        fields = ["id", "code", "name", "contact", "registered_with", "person"]


class RiderIn(In):
    """A walk-in registered by an organisation's crew (``registered_with``), or one's own record (``person``: one's own id)."""

    code = Text(max_length=40)
    name = Text(max_length=100)
    contact = Text(max_length=120, required=False, allow_blank=True)
    registered_with = Related(scopes.own_organisations, required=False, allow_null=True)
    person = Related(scopes.oneself, required=False, allow_null=True)


class RiderCorrectionIn(In):
    """What to correct of a rider; what is left out stays."""

    name = Text(max_length=100, required=False)
    contact = Text(max_length=120, required=False, allow_blank=True)


class RiderFilters(Filters):
    """Filters of riders."""

    code = filters.CharFilter()
    name = filters.CharFilter(lookup_expr="icontains", label="Part of the name.")


class RiderView(Listed[Rider]):
    """Riders."""

    queryset = Rider.objects.none()
    serializer_class = RiderOut
    filterset_class = RiderFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Rider]:
        """Return the riders the asker may see."""
        return scopes.riders(self.by, self.at)

    @takes(RiderIn, RiderOut, 201)
    def create(self, _request: Request) -> Response:
        """Register a walk-in, or oneself."""
        return self.created(register_rider(by=self.by, **self.given(RiderIn)))

    @takes(RiderCorrectionIn, RiderOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a rider."""
        with self.unchanged() as rider:
            return self.answer(correct_rider(by=self.by, rider=rider, **self.given(RiderCorrectionIn)))
