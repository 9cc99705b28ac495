"""Bulletins: issued, numbered, frozen; read by those concerned and, by its day's code, by anyone."""

from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.filters import Filters, TruthFilter, by_id, since, until
from api.permissions import Anyone
from api.schema import takes
from api.serializers import In, Text
from api.views import Listed
from fleet.catalogue.models import Axle
from fleet.events.models import Standing
from fleet.pressures.actions import withdraw_bulletin
from fleet.pressures.models import Bulletin
from fleet.pressures.queries import bulletins_for, public_bulletin


class WeatherOut(serializers.Serializer[Any]):
    """The conditions a bulletin rests on."""

    air_c = serializers.FloatField()
    track_surface_c = serializers.FloatField()
    track_surface_standing = serializers.ChoiceField(Standing.choices)
    barometer_kpa = serializers.FloatField()
    barometer_standing = serializers.ChoiceField(Standing.choices)
    holds_at = serializers.CharField()
    standing = serializers.ChoiceField(Standing.choices)
    source = serializers.CharField()  # type: ignore[assignment]  # a field, taken off the class


class ToldPartOut(serializers.Serializer[Any]):
    """One part of the day; lines name the part they are for."""

    name = serializers.CharField(help_text="Empty where nothing tells the parts of the day apart.")
    starts_at = serializers.CharField()
    ends_at = serializers.CharField()
    conditions = WeatherOut()


class BulletinLineOut(serializers.Serializer[Any]):
    """One start pressure of a bulletin."""

    spec = serializers.CharField(help_text="Code of the spec.")
    maker = serializers.CharField()
    line = serializers.CharField()
    size = serializers.CharField()
    compound = serializers.CharField()
    axle = serializers.ChoiceField(Axle.choices)
    group = serializers.CharField()
    part = serializers.CharField(default="", help_text="Name of the part of the day, from parts.")
    uses_warmers = serializers.BooleanField()
    shown_kpa = serializers.FloatField(help_text="The pressure to set, as issued.")
    computed_kpa = serializers.FloatField(
        allow_null=True,
        default=None,
        help_text="What was computed, where a person set the issued figure by hand; else null.",
    )
    is_beyond_range = serializers.BooleanField(
        default=False,
        help_text="Set by hand beyond the range the maker allows: ask the event director first.",
    )
    low_kpa = serializers.FloatField()
    high_kpa = serializers.FloatField()
    hot_target_kpa = serializers.FloatField()
    expected_hot_kpa = serializers.FloatField()
    tire_c = serializers.FloatField()
    limit_hit = serializers.CharField(help_text="lower or upper where a limit of the maker was hit.")
    basis = serializers.CharField(help_text="Where the target comes from.")
    readings = serializers.IntegerField(help_text="Readings the expected rise rests on.")
    moved_kpa = serializers.FloatField(allow_null=True)
    moved_because = serializers.CharField()


class ContentOut(serializers.Serializer[Any]):
    """What a bulletin says: no personal data."""

    event = serializers.CharField()
    date = serializers.DateField()
    track = serializers.CharField()
    layout = serializers.CharField()
    time_zone = serializers.CharField()
    number = serializers.IntegerField()
    issued_at = serializers.CharField()
    issued_for = serializers.CharField()
    conditions = WeatherOut(help_text="Of the part of the day that was at hand.")
    parts = ToldPartOut(many=True, default=list)
    assumptions = serializers.DictField()
    lines = BulletinLineOut(many=True)
    cautions = serializers.ListField(child=serializers.CharField())


class BulletinOut(serializers.ModelSerializer[Bulletin]):
    """A bulletin with what became of it."""

    content = ContentOut()

    class Meta:
        model = Bulletin
        fields = [
            "id",
            "day",
            "number",
            "issued_at",
            "superseded_at",
            "withdrawn_at",
            "withdrawn_because",
            "digest",
            "content",
        ]


class PublicBulletinOut(serializers.ModelSerializer[Bulletin]):
    """The bulletin in force at a public address."""

    content = ContentOut()

    class Meta:
        model = Bulletin
        fields = ["number", "issued_at", "digest", "content"]


class WithdrawIn(In):
    """What was wrong with a bulletin."""

    reason = Text(max_length=300)


class BulletinFilters(Filters):
    """Filters of bulletins."""

    day = by_id("day")
    event = by_id("day__event")
    is_withdrawn = TruthFilter(field_name="withdrawn_at", lookup_expr="isnull", exclude=True)
    is_superseded = TruthFilter(field_name="superseded_at", lookup_expr="isnull", exclude=True)
    since = since("issued_at")
    until = until("issued_at")


class BulletinView(Listed[Bulletin]):
    """Bulletins."""

    queryset = Bulletin.objects.none()
    serializer_class = BulletinOut
    filterset_class = BulletinFilters

    def get_queryset(self) -> QuerySet[Bulletin]:
        """Return the bulletins the asker may read."""
        return bulletins_for(self.by)

    @takes(WithdrawIn, BulletinOut, 200)
    @action(detail=True, methods=["post"])
    def withdraw(self, _request: Request, **_address: str) -> Response:
        """Take back a bulletin that was wrong."""
        bulletin = self.get_object()
        return self.answer(
            withdraw_bulletin(by=self.by, at=self.at, bulletin=bulletin, **self.given(WithdrawIn))
        )


class PublicBulletinView(viewsets.GenericViewSet[Bulletin]):
    """The bulletin in force of a day, for whoever has its code."""

    permission_classes = [Anyone]
    authentication_classes = []
    metadata_class = None
    queryset = Bulletin.objects.none()
    lookup_field = "public_code"
    filter_backends: list[Any] = []

    @extend_schema(
        parameters=[
            OpenApiParameter(
                "public_code",
                str,
                OpenApiParameter.PATH,
                description="The day's public code, as on its board.",
            )
        ],
        responses=PublicBulletinOut,
    )
    def retrieve(self, _request: Request, public_code: str) -> Response:
        """Show the bulletin in force of the day with this public code."""
        bulletin = public_bulletin(public_code)
        if bulletin is None:
            raise Http404
        return Response(PublicBulletinOut(bulletin).data)
