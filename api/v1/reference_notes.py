"""Reference notes: pressures others reported, everybody's and those an organisation's testers gathered."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Choice, Date, In, Key, Number, Related, Text
from api.views import Listed
from fleet.catalogue.actions import correct_note, drop_note, gather_note
from fleet.catalogue.models import PressureSpec, ReferenceNote


class ReferenceNoteOut(serializers.ModelSerializer[ReferenceNote]):
    """A pressure somebody reported elsewhere, with the conditions it was used in."""

    class Meta:
        model = ReferenceNote
        fields = [
            "id",
            "spec",
            "basis",
            "pressure_kpa",
            "air_c",
            "track_surface_c",
            "track_name",
            "pace",
            "noted_on",
            "source",
            "organisation",
        ]


class ReferenceNoteIn(In):
    """A pressure your testers found reported elsewhere; it counts in your organisation's tests alone."""

    organisation = Related(scopes.own_organisations)
    spec = Related(scopes.specs)
    basis = Choice(PressureSpec.Basis.choices)
    pressure_kpa = Number()
    noted_on = Date()
    source = Text(max_length=200)  # type: ignore[assignment]  # a field, taken off the class
    air_c = Number(required=False, allow_null=True)
    track_surface_c = Number(required=False, allow_null=True)
    track_name = Text(max_length=100, required=False, allow_blank=True)
    pace = Text(max_length=40, required=False, allow_blank=True)
    key = Key()


class ReferenceNoteCorrectionIn(In):
    """What to correct of a note; what is left out stays."""

    spec = Related(scopes.specs, required=False)
    basis = Choice(PressureSpec.Basis.choices, required=False)
    pressure_kpa = Number(required=False)
    noted_on = Date(required=False)
    source = Text(max_length=200, required=False)  # type: ignore[assignment]  # likewise
    air_c = Number(required=False, allow_null=True)
    track_surface_c = Number(required=False, allow_null=True)
    track_name = Text(max_length=100, required=False, allow_blank=True)
    pace = Text(max_length=40, required=False, allow_blank=True)


class ReferenceNoteFilters(Filters):
    """Filters of reference notes."""

    spec = by_id("spec")
    line = by_id("spec__line")
    organisation = by_id("organisation")
    basis = filters.ChoiceFilter(choices=PressureSpec.Basis.choices)


class ReferenceNoteView(Listed[ReferenceNote]):
    """Reference notes."""

    queryset = ReferenceNote.objects.none()
    serializer_class = ReferenceNoteOut
    filterset_class = ReferenceNoteFilters

    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[ReferenceNote]:
        """Return the shared notes, and those of organisations the asker tests for."""
        return scopes.reference_notes(self.by, self.at)

    @takes(ReferenceNoteIn, ReferenceNoteOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down a note that testers found."""
        return self.created(gather_note(by=self.by, at=self.at, **self.given(ReferenceNoteIn)))

    @takes(ReferenceNoteCorrectionIn, ReferenceNoteOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a note of one's own organisation."""
        with self.unchanged() as note:
            given = self.given(ReferenceNoteCorrectionIn)
            return self.answer(correct_note(by=self.by, at=self.at, gathered=note, **given))

    @takes(None, None, 204)
    @action(detail=True, methods=["post"])
    def drop(self, _request: Request, **_address: str) -> Response:
        """Take out a note of one's own organisation."""
        drop_note(by=self.by, gathered=self.get_object())
        return Response(status=204)
