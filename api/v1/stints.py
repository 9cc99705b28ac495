"""Stints: logged with laps or distance, pressures and one feel word in a single step."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import Batched, BatchOut, batch_of
from api.filters import FactFilters, by_id, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Number, Related, VoidIn, Whole
from fleet.running.actions import log_stint, void_stint
from fleet.running.models import FeelNote, Stint


class StintOut(serializers.ModelSerializer[Stint]):
    """One stretch on track, or a ride on the road (no layout)."""

    rider = serializers.UUIDField(source="wheel_pair.bike.rider_id")
    lap_times_s = serializers.ListField(child=serializers.FloatField())

    class Meta:
        model = Stint
        fields = [
            "id",
            "wheel_pair",
            "rider",
            "day",
            "layout",
            "started_at",
            "ended_at",
            "laps",
            "distance_km",
            "effort",
            "warmers_c",
            "lap_times_s",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class StintIn(In):
    """A stint to log; the pressures set and read hot, and a feel word, come with it where known."""

    wheel_pair = Related(scopes.wheel_pairs)
    started_at = Moment()
    ended_at = Moment()
    day = Related(scopes.days, required=False, allow_null=True)
    layout = Related(scopes.layouts, required=False, allow_null=True)
    laps = Whole(required=False, allow_null=True, min_value=0)
    distance_km = Number(required=False, allow_null=True)
    effort = Number(required=False, allow_null=True)
    warmers_c = Number(required=False, allow_null=True)
    lap_times_s = serializers.ListField(
        child=Number(), required=False, allow_null=True, allow_empty=True, max_length=400
    )
    front_set_kpa = Number(required=False, allow_null=True)
    rear_set_kpa = Number(required=False, allow_null=True)
    front_in_kpa = Number(required=False, allow_null=True)
    rear_in_kpa = Number(required=False, allow_null=True)
    set_tire_c = Number(required=False, allow_null=True)
    minutes_since_in = Number(required=False)
    instrument = Related(scopes.instruments, required=False, allow_null=True)
    feel = Choice(FeelNote.Feel.choices, required=False, allow_blank=True)
    key = Key()


StintBatchIn = batch_of(StintIn)


class StintFilters(FactFilters):
    """Filters of stints."""

    rider = by_id("wheel_pair__bike__rider")
    wheel_pair = by_id("wheel_pair")
    day = by_id("day")
    layout = by_id("layout")
    since = since("started_at")
    until = until("started_at")


class StintView(Batched[Stint]):
    """Stints."""

    queryset = Stint.objects.none()
    serializer_class = StintOut
    filterset_class = StintFilters

    def get_queryset(self) -> QuerySet[Stint]:
        """Return the stints the asker may see."""
        return scopes.stints(self.by, self.at)

    @takes(StintIn, StintOut, 201)
    def create(self, _request: Request) -> Response:
        """Log a stint; all of it is stored, or nothing."""
        return self.created(log_stint(by=self.by, at=self.at, **self.given(StintIn)))

    @takes(StintBatchIn, BatchOut, 200)
    @action(detail=False, methods=["post"])
    def batch(self, _request: Request) -> Response:
        """Log many stints at once, each stored or refused by itself."""
        return self.each(StintBatchIn, log_stint)

    @takes(VoidIn, StintOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a stint as wrong together with its readings and notes."""
        stint = self.get_object()
        return self.answer(void_stint(by=self.by, at=self.at, stint=stint, **self.given(VoidIn)))
