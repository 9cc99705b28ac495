"""Conditions: the weather of a day, by numbers or from a METAR report."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Number, Related, Text, VoidIn
from api.views import Listed
from fleet.events.actions import record_conditions, record_metar, void_conditions
from fleet.events.models import Conditions, Standing
from fleet.events.queries import conditions_for


class ConditionsOut(serializers.ModelSerializer[Conditions]):
    """The weather at one moment, each value with how well it is known."""

    class Meta:
        model = Conditions
        fields = [
            "id",
            "day",
            "holds_at",
            "standing",
            "source",
            "air_c",
            "dew_point_c",
            "barometer_kpa",
            "barometer_standing",
            "track_surface_c",
            "track_surface_standing",
            "cloud_fraction",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class ConditionsIn(In):
    """The weather by numbers; without a barometer or a track surface, both are estimated and marked so."""

    day = Related(scopes.days)
    holds_at = Moment()
    standing = Choice(Standing.choices)
    source = Text(max_length=300)  # type: ignore[assignment]  # a field, taken off the class
    air_c = Number()
    dew_point_c = Number(required=False, allow_null=True)
    barometer_kpa = Number(required=False, allow_null=True)
    altimeter_kpa = Number(required=False, allow_null=True)
    barometer_standing = Choice(Standing.choices, required=False, allow_null=True)
    track_surface_c = Number(required=False, allow_null=True)
    track_surface_standing = Choice(Standing.choices, required=False, allow_null=True)
    cloud_fraction = Number(required=False, allow_null=True)
    key = Key()


class MetarIn(In):
    """The weather as a METAR report (WMO-No. 306, FM 15)."""

    day = Related(scopes.days)
    metar = Text(max_length=300, help_text="One whole report as it was published.")
    holds_at = Moment(required=False, allow_null=True)
    track_surface_c = Number(required=False, allow_null=True)
    key = Key()


class ConditionsFilters(FactFilters):
    """Filters of conditions."""

    day = by_id("day")
    standing = filters.ChoiceFilter(choices=Standing.choices)
    since = since("holds_at")
    until = until("holds_at")


class ConditionsView(Listed[Conditions]):
    """Conditions."""

    queryset = Conditions.objects.none()
    serializer_class = ConditionsOut
    filterset_class = ConditionsFilters

    def get_queryset(self) -> QuerySet[Conditions]:
        """Return the conditions of the days the asker may see."""
        return conditions_for(self.by)

    @takes(ConditionsIn, ConditionsOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down the weather by numbers."""
        return self.created(record_conditions(by=self.by, at=self.at, **self.given(ConditionsIn)))

    @takes(MetarIn, ConditionsOut, 201)
    @action(detail=False, methods=["post"])
    def metar(self, _request: Request) -> Response:
        """Write down the weather from a METAR report."""
        return self.created(record_metar(by=self.by, at=self.at, **self.given(MetarIn)))

    @takes(VoidIn, ConditionsOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark conditions as wrong."""
        row = self.get_object()
        return self.answer(void_conditions(by=self.by, at=self.at, conditions=row, **self.given(VoidIn)))
