"""Removals: how fittings ended, written at ``fittings/{id}/removal``."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters, since, until
from api.schema import takes
from api.serializers import Related, VoidIn
from api.views import Listed
from fleet.inventory.actions import void_removal
from fleet.inventory.models import Removal


class RemovalOut(serializers.ModelSerializer[Removal]):
    """The end of a fitting."""

    class Meta:
        model = Removal
        fields = [
            "id",
            "fitting",
            "removed_at",
            "reason",
            "destination",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class RemovalVoidIn(VoidIn):
    """Why a removal was wrong; a trailer's crew names its vendor."""

    vendor = Related(scopes.own_organisations, required=False, allow_null=True)


class RemovalFilters(FactFilters):
    """Filters of removals."""

    fitting = by_id("fitting")
    tire = by_id("fitting__tire")
    rider = by_id("fitting__wheel_pair__bike__rider")
    reason = filters.ChoiceFilter(choices=Removal.Reason.choices)
    since = since("removed_at")
    until = until("removed_at")


class RemovalView(Listed[Removal]):
    """Removals."""

    queryset = Removal.objects.none()
    serializer_class = RemovalOut
    filterset_class = RemovalFilters

    def get_queryset(self) -> QuerySet[Removal]:
        """Return the removals of the fittings the asker may see."""
        return scopes.removals(self.by, self.at)

    @takes(RemovalVoidIn, RemovalOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a removal as wrong: the tire is on its wheel as before."""
        removal = self.get_object()
        return self.answer(void_removal(by=self.by, at=self.at, removal=removal, **self.given(RemovalVoidIn)))
