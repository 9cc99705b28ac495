"""Steps of tire tests."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Choice, In, Related, Text, Truth
from api.views import Listed
from fleet.trials.actions import add_step, correct_step, move_step
from fleet.trials.models import Step


class TestStepOut(serializers.ModelSerializer[Step]):
    """One thing to do in a test."""

    class Meta:
        model = Step
        fields = ["id", "test", "position", "what", "words", "state"]


class TestStepIn(In):
    """A step to add at the end."""

    test = Related(scopes.tire_tests)
    what = Choice(Step.What.choices, required=False)
    words = Text(max_length=200, required=False, allow_blank=True)


class TestStepCorrectionIn(In):
    """What to change of a step; what is left out stays."""

    state = Choice(Step.State.choices, required=False)
    words = Text(max_length=200, required=False, allow_blank=True)


class MoveIn(In):
    """Which way to move a step in the order."""

    earlier = Truth()


class TestStepFilters(Filters):
    """Filters of steps."""

    test = by_id("test")
    state = filters.ChoiceFilter(choices=Step.State.choices)


class TestStepView(Listed[Step]):
    """Steps of tire tests."""

    queryset = Step.objects.none()
    serializer_class = TestStepOut
    filterset_class = TestStepFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Step]:
        """Return the steps the asker may see."""
        return scopes.steps_of_tests(self.by, self.at)

    @takes(TestStepIn, TestStepOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a step at the end."""
        return self.created(add_step(by=self.by, **self.given(TestStepIn)))

    @takes(TestStepCorrectionIn, TestStepOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Mark a step as done, skipped or to do, or reword it."""
        with self.unchanged() as step:
            return self.answer(correct_step(by=self.by, step=step, **self.given(TestStepCorrectionIn)))

    @takes(MoveIn, TestStepOut, 200)
    @action(detail=True, methods=["post"])
    def move(self, _request: Request, **_address: str) -> Response:
        """Let a step change places with its neighbor."""
        return self.answer(move_step(by=self.by, step=self.get_object(), **self.given(MoveIn)))
