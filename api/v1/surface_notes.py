"""Surface notes: what a tread surface showed."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters, since, until
from api.forms import FormParser, Photo
from api.parsers import JSONParser
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Related, Text, VoidIn
from api.views import Listed
from fleet.running.actions import note_surface, void_reading
from fleet.running.models import SurfaceNote, Zone


class SurfaceNoteOut(serializers.ModelSerializer[SurfaceNote]):
    """One trade expression and free words about a tread surface."""

    class Meta:
        model = SurfaceNote
        fields = [
            "id",
            "tire",
            "seen_at",
            "look",
            "zone",
            "words",
            "photo",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]
        extra_kwargs = {
            "photo": {
                "help_text": "Its picture is at `/api/v1/photos/{photo}` for whoever may read this, until it is voided."
            }
        }


class SurfaceNoteIn(In):
    """What was seen, in which zone, and free words; a trailer's crew names its vendor, testers whom they test for."""

    tire = Related(scopes.tires_to_measure)
    look = Choice(SurfaceNote.Look.choices)
    seen_at = Moment()
    zone = Choice(Zone.choices, required=False, allow_blank=True)
    words = Text(max_length=400, required=False, allow_blank=True)
    vendor = Related(scopes.own_organisations, required=False, allow_null=True)
    key = Key()


class SurfaceNoteFormIn(SurfaceNoteIn):
    """What was seen, with a photo."""

    vendor = Related(scopes.own_organisations, required=False)
    photo = Photo(help_text="JPEG or PNG, at most 12 MB; what the camera wrote into it is left behind.")


class SurfaceNoteFilters(FactFilters):
    """Filters of surface notes."""

    tire = by_id("tire")
    rider = by_id("tire__owner")
    look = filters.ChoiceFilter(choices=SurfaceNote.Look.choices)
    since = since("seen_at")
    until = until("seen_at")


class SurfaceNoteView(Listed[SurfaceNote]):
    """Surface notes."""

    queryset = SurfaceNote.objects.none()
    serializer_class = SurfaceNoteOut
    filterset_class = SurfaceNoteFilters
    parser_classes = [JSONParser, FormParser]

    def get_queryset(self) -> QuerySet[SurfaceNote]:
        """Return the surface notes the asker may see."""
        return scopes.surface_notes(self.by, self.at)

    @takes(SurfaceNoteIn, SurfaceNoteOut, 201, form=SurfaceNoteFormIn)
    def create(self, _request: Request) -> Response:
        """Write down what a tread surface showed, with a photo where it is sent as a form."""
        given = self.given(SurfaceNoteIn, form=SurfaceNoteFormIn)
        return self.created(note_surface(by=self.by, at=self.at, **given))

    @takes(VoidIn, SurfaceNoteOut, 200)
    @action(detail=True, methods=["post"], parser_classes=[JSONParser])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a surface note as wrong."""
        note = self.get_object()
        void_reading(by=self.by, at=self.at, reading=note, **self.given(VoidIn))
        return self.answer(note)
