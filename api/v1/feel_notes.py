"""Feel notes: what the rider felt in a stint."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Related, Text, VoidIn
from api.views import Listed
from fleet.running.actions import note_feel, void_note
from fleet.running.models import FeelNote


class FeelNoteOut(serializers.ModelSerializer[FeelNote]):
    """One trade expression and free words."""

    class Meta:
        model = FeelNote
        fields = [
            "id",
            "stint",
            "feel",
            "phase",
            "words",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class FeelNoteIn(In):
    """What was felt, where in the corner, and free words."""

    stint = Related(scopes.stints)
    feel = Choice(FeelNote.Feel.choices)
    phase = Choice(FeelNote.Phase.choices, required=False, allow_blank=True)
    words = Text(max_length=400, required=False, allow_blank=True)
    key = Key()


class FeelNoteFilters(FactFilters):
    """Filters of feel notes."""

    stint = by_id("stint")
    day = by_id("stint__day")
    rider = by_id("stint__wheel_pair__bike__rider")
    feel = filters.ChoiceFilter(choices=FeelNote.Feel.choices)
    since = since("stint__started_at")
    until = until("stint__started_at")


class FeelNoteView(Listed[FeelNote]):
    """Feel notes."""

    queryset = FeelNote.objects.none()
    serializer_class = FeelNoteOut
    filterset_class = FeelNoteFilters

    def get_queryset(self) -> QuerySet[FeelNote]:
        """Return the feel notes the asker may see."""
        return scopes.feel_notes(self.by, self.at)

    @takes(FeelNoteIn, FeelNoteOut, 201)
    def create(self, _request: Request) -> Response:
        """Write down what the rider felt."""
        return self.created(note_feel(by=self.by, at=self.at, **self.given(FeelNoteIn)))

    @takes(VoidIn, FeelNoteOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a feel note as wrong."""
        note = self.get_object()
        void_note(by=self.by, at=self.at, note=note, **self.given(VoidIn))
        return self.answer(note)
