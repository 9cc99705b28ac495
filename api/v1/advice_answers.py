"""Advice answers: what a rider says of the change that was advised after a stint."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Number, Related, VoidIn
from api.views import Listed
from fleet.catalogue.models import Axle
from fleet.running.actions import answer_advice, void_answer
from fleet.running.models import AdviceAnswer


class AdviceAnswerOut(serializers.ModelSerializer[AdviceAnswer]):
    """An answer with what was advised."""

    class Meta:
        model = AdviceAnswer
        fields = [
            "id",
            "stint",
            "advised",
            "axle",
            "change_kpa",
            "answer",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class AdviceAnswerIn(In):
    """What was advised, and whether it was done or what came of it."""

    stint = Related(scopes.stints)
    advised = Choice(AdviceAnswer.Advised.choices)
    axle = Choice(Axle.choices, required=False, allow_blank=True)
    change_kpa = Number(required=False, allow_null=True, min_value=-100, max_value=100)
    answer = Choice(AdviceAnswer.Answer.choices)
    key = Key()


class AdviceAnswerFilters(FactFilters):
    """Filters of advice answers."""

    stint = by_id("stint")
    rider = by_id("stint__wheel_pair__bike__rider")
    answer = filters.ChoiceFilter(choices=AdviceAnswer.Answer.choices)
    since = since("stint__started_at")
    until = until("stint__started_at")


class AdviceAnswerView(Listed[AdviceAnswer]):
    """Advice answers."""

    queryset = AdviceAnswer.objects.none()
    serializer_class = AdviceAnswerOut
    filterset_class = AdviceAnswerFilters

    def get_queryset(self) -> QuerySet[AdviceAnswer]:
        """Return the answers the asker may see."""
        return scopes.advice_answers(self.by, self.at)

    @takes(AdviceAnswerIn, AdviceAnswerOut, 201)
    def create(self, _request: Request) -> Response:
        """Say whether an advised change was done, or what came of it."""
        return self.created(answer_advice(by=self.by, at=self.at, **self.given(AdviceAnswerIn)))

    @takes(VoidIn, AdviceAnswerOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark an answer as wrong."""
        answer = self.get_object()
        void_answer(by=self.by, at=self.at, answer=answer, **self.given(VoidIn))
        return self.answer(answer)
