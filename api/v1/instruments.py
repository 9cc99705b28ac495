"""Instruments: gauges, and how far they read off."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Choice, Date, In, Number, Related, Text
from api.views import Listed
from fleet.garage.actions import add_instrument, correct_instrument
from fleet.garage.models import Instrument


class InstrumentOut(serializers.ModelSerializer[Instrument]):
    """A gauge of a rider or of an organisation."""

    class Meta:
        model = Instrument
        fields = [
            "id",
            "code",
            "name",
            "kind",
            "rider",
            "organisation",
            "step_kpa",
            "offset_kpa",
            "compared_on",
        ]


class InstrumentIn(In):
    """A gauge to add, of a rider or of an organisation."""

    code = Text(max_length=40)
    name = Text(max_length=60)
    kind = Choice(Instrument.Kind.choices)
    rider = Related(scopes.riders, required=False, allow_null=True)
    organisation = Related(scopes.own_organisations, required=False, allow_null=True)
    step_kpa = Number(required=False, allow_null=True)
    offset_kpa = Number(required=False)
    compared_on = Date(required=False, allow_null=True)


class InstrumentCorrectionIn(In):
    """What to correct of an instrument; what is left out stays."""

    name = Text(max_length=60, required=False)
    step_kpa = Number(required=False, allow_null=True)
    offset_kpa = Number(required=False)
    compared_on = Date(required=False, allow_null=True)


class InstrumentFilters(Filters):
    """Filters of instruments."""

    code = filters.CharFilter()
    kind = filters.ChoiceFilter(choices=Instrument.Kind.choices)
    rider = by_id("rider")
    organisation = by_id("organisation")


class InstrumentView(Listed[Instrument]):
    """Instruments."""

    queryset = Instrument.objects.none()
    serializer_class = InstrumentOut
    filterset_class = InstrumentFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Instrument]:
        """Return the instruments the asker may use."""
        return scopes.instruments(self.by, self.at)

    @takes(InstrumentIn, InstrumentOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a gauge."""
        return self.created(add_instrument(by=self.by, **self.given(InstrumentIn)))

    @takes(InstrumentCorrectionIn, InstrumentOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct an instrument."""
        with self.unchanged() as instrument:
            return self.answer(
                correct_instrument(by=self.by, instrument=instrument, **self.given(InstrumentCorrectionIn))
            )
