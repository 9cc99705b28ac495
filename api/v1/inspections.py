"""Inspections: what tech inspection found on tires before they went out."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, since, until
from api.forms import FormParser, Photo
from api.parsers import JSONParser
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Related, Text, VoidIn
from api.views import Listed
from fleet.inventory.actions import inspect_tire, void_inspection
from fleet.inventory.inspection import Inspection


class InspectionOut(serializers.ModelSerializer[Inspection]):
    """What was found on a tire, and the hold it led to."""

    label_code = serializers.CharField(source="tire.label_code")
    inspected_for_name = serializers.CharField(source="inspected_for.name")

    class Meta:
        model = Inspection
        fields = [
            "id",
            "tire",
            "label_code",
            "inspected_for",
            "inspected_for_name",
            "outcome",
            "words",
            "inspected_at",
            "hold",
            "photo",
            "recorded_by",
            "recorded_at",
        ]
        extra_kwargs = {
            "photo": {"help_text": "Its picture is at `/api/v1/photos/{photo}` for whoever may read this."}
        }


class InspectionIn(In):
    """What was found; a hold is placed where the outcome is hold and the inspection has none on that tire yet."""

    tire = Related(scopes.tires)
    inspected_for = Related(scopes.own_organisations)
    outcome = Choice(Inspection.Outcome.choices)
    inspected_at = Moment()
    words = Text(
        max_length=300, required=False, allow_blank=True, help_text="What was seen; needed unless it passed."
    )
    key = Key()


class InspectionFormIn(InspectionIn):
    """What was found, with a photo."""

    photo = Photo(help_text="JPEG or PNG, at most 12 MB; what the camera wrote into it is left behind.")


class InspectionFilters(Filters):
    """Filters of inspections."""

    tire = by_id("tire")
    rider = by_id("tire__owner")
    inspected_for = by_id("inspected_for")
    outcome = filters.ChoiceFilter(choices=Inspection.Outcome.choices)
    since = since("inspected_at")
    until = until("inspected_at")


class InspectionView(Listed[Inspection]):
    """Inspections."""

    queryset = Inspection.objects.none()
    serializer_class = InspectionOut
    filterset_class = InspectionFilters
    parser_classes = [JSONParser, FormParser]

    def get_queryset(self) -> QuerySet[Inspection]:
        """Return the inspections the asker may see; those taken back are in the history alone."""
        return scopes.inspections(self.by, self.at)

    @takes(InspectionIn, InspectionOut, 201, form=InspectionFormIn)
    def create(self, _request: Request) -> Response:
        """Record what was found on a tire, with a photo where it is sent as a form."""
        given = self.given(InspectionIn, form=InspectionFormIn)
        return self.created(inspect_tire(by=self.by, at=self.at, **given))

    @takes(VoidIn, InspectionOut, 200)
    @action(detail=True, methods=["post"], parser_classes=[JSONParser])
    def void(self, _request: Request, **_address: str) -> Response:
        """Take an inspection back, and the hold that rests on nothing else."""
        inspection = self.get_object()
        void_inspection(by=self.by, at=self.at, inspection=inspection, **self.given(VoidIn))
        return self.shown(inspection)
