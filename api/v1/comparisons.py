"""Comparisons: a pressure gauge and a better one read on the same tire."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, since, until
from api.schema import takes
from api.serializers import In, Key, Moment, Number, Related, VoidIn
from api.views import Listed
from fleet.garage.actions import compare_gauge, void_comparison
from fleet.garage.comparison import GaugeComparison
from fleet.garage.queries import comparisons_for


class ComparisonOut(serializers.ModelSerializer[GaugeComparison]):
    """What both gauges showed; the newest that stands is how far the gauge reads off."""

    class Meta:
        model = GaugeComparison
        fields = [
            "id",
            "instrument",
            "master",
            "own_kpa",
            "master_kpa",
            "offset_kpa",
            "compared_at",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class ComparisonIn(In):
    """The gauge, the master where it is on record, and what both showed one right after the other."""

    instrument = Related(scopes.instruments)
    master = Related(scopes.masters, required=False, allow_null=True)
    own_kpa = Number()
    master_kpa = Number()
    compared_at = Moment()
    key = Key()


class ComparisonFilters(FactFilters):
    """Filters of comparisons."""

    instrument = by_id("instrument")
    since = since("compared_at")
    until = until("compared_at")


class ComparisonView(Listed[GaugeComparison]):
    """Comparisons."""

    queryset = GaugeComparison.objects.none()
    serializer_class = ComparisonOut
    filterset_class = ComparisonFilters

    def get_queryset(self) -> QuerySet[GaugeComparison]:
        """Return the comparisons of the asker's own gauges and of those of the trailers they work at."""
        return comparisons_for(self.by)

    @takes(ComparisonIn, ComparisonOut, 201)
    def create(self, _request: Request) -> Response:
        """Store a comparison; from then on the gauge counts with it."""
        return self.created(compare_gauge(by=self.by, at=self.at, **self.given(ComparisonIn)))

    @takes(VoidIn, ComparisonOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a comparison as wrong: the one before it counts again."""
        comparison = self.get_object()
        return self.answer(
            void_comparison(by=self.by, at=self.at, comparison=comparison, **self.given(VoidIn))
        )
