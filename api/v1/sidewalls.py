"""Sidewalls: numbers read off tires, which decide what recalls touch."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id
from api.schema import takes
from api.serializers import In, Key, Moment, Related, Text
from api.views import Listed
from fleet.inventory.actions import read_sidewall
from fleet.inventory.models import SidewallReading


class SidewallOut(serializers.ModelSerializer[SidewallReading]):
    """What stands on a tire; the reading before is voided and kept."""

    class Meta:
        model = SidewallReading
        fields = [
            "id",
            "tire",
            "read_for",
            "identification",
            "made_on",
            "plant",
            "read_at",
            "replaces",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class SidewallIn(In):
    """A number read by somebody who may hold the tire."""

    tire = Related(scopes.tires)
    read_for = Related(scopes.own_organisations)
    identification = Text(max_length=20, help_text="The whole number, or its four digits of week and year.")
    read_at = Moment()
    key = Key()


class SidewallFilters(FactFilters):
    """Filters of sidewalls."""

    tire = by_id("tire")
    rider = by_id("tire__owner")


class SidewallView(Listed[SidewallReading]):
    """Sidewalls."""

    queryset = SidewallReading.objects.none()
    serializer_class = SidewallOut
    filterset_class: Any = SidewallFilters

    def get_queryset(self) -> QuerySet[SidewallReading]:
        """Return the readings the asker may see."""
        return scopes.sidewalls(self.by, self.at)

    @takes(SidewallIn, SidewallOut, 201)
    def create(self, _request: Request) -> Response:
        """Note the number on a tire."""
        return self.created(read_sidewall(by=self.by, at=self.at, **self.given(SidewallIn)))
