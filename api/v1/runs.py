"""Runs of tire tests: which stints count, and what for."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters
from api.schema import takes
from api.serializers import Choice, In, Key, Related, Text, VoidIn
from api.views import Listed
from fleet.trials.actions import add_run, void_run
from fleet.trials.models import Run, Side


class TestRunOut(serializers.ModelSerializer[Run]):
    """A stint that counts in a test; the set it ran on is told by the tires that were on."""

    class Meta:
        model = Run
        fields = [
            "id",
            "test",
            "stint",
            "side",
            "purpose",
            "words",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class TestRunIn(In):
    """A stint to count, and what it was ridden for."""

    test = Related(scopes.tire_tests)
    stint = Related(scopes.stints)
    purpose = Choice(Run.Purpose.choices)
    words = Text(max_length=400, required=False, allow_blank=True)
    key = Key()


class TestRunFilters(FactFilters):
    """Filters of runs."""

    test = by_id("test")
    stint = by_id("stint")
    side = filters.ChoiceFilter(choices=Side.choices)


class TestRunView(Listed[Run]):
    """Runs of tire tests."""

    queryset = Run.objects.none()
    serializer_class = TestRunOut
    filterset_class = TestRunFilters

    def get_queryset(self) -> QuerySet[Run]:
        """Return the runs the asker may see."""
        return scopes.runs_of_tests(self.by, self.at)

    @takes(TestRunIn, TestRunOut, 201)
    def create(self, _request: Request) -> Response:
        """Count a stint as a run."""
        return self.created(add_run(by=self.by, at=self.at, **self.given(TestRunIn)))

    @takes(VoidIn, TestRunOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a run as wrong; the stint stays."""
        run = self.get_object()
        void_run(by=self.by, at=self.at, run=run, **self.given(VoidIn))
        return self.answer(run)
