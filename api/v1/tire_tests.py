"""Tire tests: the plan, its verdict and its end."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Date, In, Number, Related, Text, Whole
from api.views import Listed
from fleet.trials.actions import correct_test, end_test, judge_test, plan_test
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import may_read, sets_of


class TireTestOut(serializers.ModelSerializer[TireTest]):
    """A comparison of two sets of tires on one bike."""

    class Meta:
        model = TireTest
        fields = [
            "id",
            "code",
            "organisation",
            "bike",
            "question",
            "held_constant",
            "ridden_by",
            "layout",
            "planned_on",
            "baseline_front",
            "baseline_rear",
            "baseline_pair",
            "candidate_front",
            "candidate_rear",
            "candidate_pair",
            "gearbox_teeth",
            "wheel_teeth",
            "mass_height_mm",
            "judged_on",
            "verdict",
            "ended_on",
            "final_remark",
        ]


class TireTestIn(In):
    """A test to plan: on a bike whose rider shares stints with the organisation."""

    organisation = Related(scopes.own_organisations)
    code = Text(max_length=40)
    bike = Related(scopes.bikes_to_test)
    question = Text(max_length=200)
    planned_on = Date()
    baseline_front = Related(scopes.specs)
    baseline_rear = Related(scopes.specs)
    baseline_pair = Related(scopes.wheel_pairs_to_test)
    candidate_front = Related(scopes.specs)
    candidate_rear = Related(scopes.specs)
    candidate_pair = Related(scopes.wheel_pairs_to_test)
    layout = Related(scopes.layouts, required=False, allow_null=True)
    held_constant = Text(max_length=400, required=False, allow_blank=True)
    ridden_by = Text(max_length=120, required=False, allow_blank=True)
    gearbox_teeth = Whole(required=False, allow_null=True)
    wheel_teeth = Whole(required=False, allow_null=True)
    mass_height_mm = Number(required=False, allow_null=True)


class TireTestCorrectionIn(In):
    """What to correct of a plan; what is left out stays."""

    question = Text(max_length=200, required=False)
    planned_on = Date(required=False)
    layout = Related(scopes.layouts, required=False, allow_null=True)
    held_constant = Text(max_length=400, required=False, allow_blank=True)
    ridden_by = Text(max_length=120, required=False, allow_blank=True)
    gearbox_teeth = Whole(required=False, allow_null=True)
    wheel_teeth = Whole(required=False, allow_null=True)
    mass_height_mm = Number(required=False, allow_null=True)


class VerdictIn(In):
    """The verdict in the tester's own words."""

    verdict = Text(max_length=1500)
    judged_on = Date()


class TestEndIn(In):
    """When the set was removed, and the last word about it."""

    ended_on = Date()
    final_remark = Text(max_length=600, required=False, allow_blank=True)


class TestTireOut(serializers.Serializer[Any]):
    """A tire of one of a test's sets: what was fitted of the specs planned on the wheels planned."""

    side = serializers.ChoiceField(choices=Side.choices)
    axle = serializers.CharField(source="fitting.axle")
    tire = serializers.UUIDField(source="fitting.tire_id")
    fitting = serializers.UUIDField(source="fitting.pk")
    fitted_at = serializers.DateTimeField(source="fitting.fitted_at")
    removed_at = serializers.DateTimeField(source="fitting.removed_at", allow_null=True)


class TireTestFilters(Filters):
    """Filters of tire tests."""

    code = filters.CharFilter()
    organisation = by_id("organisation")
    bike = by_id("bike")


class TireTestView(Listed[TireTest]):
    """Tire tests."""

    queryset = TireTest.objects.none()
    serializer_class = TireTestOut
    filterset_class = TireTestFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[TireTest]:
        """Return the tests the asker may see."""
        return scopes.tire_tests(self.by, self.at)

    @takes(TireTestIn, TireTestOut, 201)
    def create(self, _request: Request) -> Response:
        """Plan a test, with the steps the trade proposes."""
        return self.created(plan_test(by=self.by, **self.given(TireTestIn)))

    @takes(TireTestCorrectionIn, TireTestOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a plan."""
        with self.unchanged() as test:
            return self.answer(correct_test(by=self.by, test=test, **self.given(TireTestCorrectionIn)))

    @takes(None, TestTireOut(many=True), 200)
    @action(detail=True, methods=["get"], pagination_class=None, filterset_class=None)
    def tires(self, _request: Request, **_address: str) -> Response:
        """Show the tires of both sets, by which readings of the test are sent; none once the rider opens them no longer."""
        test = self.get_object()
        sets = sets_of(test) if may_read(self.by, test) else {}
        found = [
            {"side": side, "fitting": fitting}
            for side, one in sets.items()
            for fitting in one.fittings.values()
        ]
        return Response(TestTireOut(found, many=True).data)

    @takes(VerdictIn, TireTestOut, 200)
    @action(detail=True, methods=["post"])
    def judge(self, _request: Request, **_address: str) -> Response:
        """Give the verdict; the test goes on until the set is removed."""
        return self.answer(judge_test(by=self.by, test=self.get_object(), **self.given(VerdictIn)))

    @takes(TestEndIn, TireTestOut, 200)
    @action(detail=True, methods=["post"])
    def end(self, _request: Request, **_address: str) -> Response:
        """End a test whose set was removed."""
        return self.answer(end_test(by=self.by, test=self.get_object(), **self.given(TestEndIn)))
