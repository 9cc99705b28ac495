"""Recalls: notices that stop tires, what each touches, and who was told."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, TruthFilter, by_id, filters
from api.schema import takes
from api.serializers import Choice, Date, In, Key, Moment, Related, Text, VoidIn
from api.views import Listed
from fleet.catalogue.models import Axle
from fleet.inventory.actions import enter_recall, lift_recall, record_contact, void_recall
from fleet.inventory.models import Lot, RecallContact, RecallNotice
from fleet.life.affected import affected_by


class RecallOut(serializers.ModelSerializer[RecallNotice]):
    """A notice: a spec or a line, by the weeks its tires were made in and, where it names one, their plant."""

    class Meta:
        model = RecallNotice
        fields = [
            "id",
            "reference",
            "issued_by",
            "published_on",
            "spec",
            "line",
            "axle",
            "first_code",
            "last_code",
            "made_from",
            "made_to",
            "plant",
            "what_to_do",
            "entered_for",
            "lifted_at",
            "lift_reason",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class RecallIn(In):
    """A notice to put in force: of one spec, or of a whole line and perhaps one axle of it."""

    entered_for = Related(scopes.own_organisations, help_text="Whose stock, customers and entrants it binds.")
    reference = Text(max_length=40)
    issued_by = Text(max_length=80)
    published_on = Date()
    spec = Related(scopes.specs, required=False, allow_null=True)
    line = Related(scopes.lines, required=False, allow_null=True)
    axle = Choice(Axle.choices, required=False, allow_blank=True)
    first_code = Text(max_length=4, help_text="Week and year, such as 0826.")
    last_code = Text(max_length=4, help_text="Week and year, such as 1026.")
    plant = Text(max_length=3, required=False, allow_blank=True)
    what_to_do = Text(max_length=160, help_text="What riders are told to do.")
    key = Key()


class RecallLiftIn(In):
    """Who took the notice back, or how it was dealt with."""

    reason = Text(max_length=300)


class ContactOut(serializers.ModelSerializer[RecallContact]):
    """A rider told by a person."""

    class Meta:
        model = RecallContact
        fields = ["id", "rider", "told_for", "way", "told_at", "recorded_by", "recorded_at"]


class ContactIn(In):
    """Who was told, how and when."""

    rider = Related(scopes.riders_to_tell)
    told_for = Related(scopes.own_organisations)
    way = Choice(RecallContact.Way.choices)
    told_at = Moment()
    key = Key()


class TouchedLotOut(serializers.ModelSerializer[Lot]):
    """A lot of which nothing is fitted or sold, with what is left of it."""

    in_store = serializers.IntegerField()
    on_trailer = serializers.IntegerField()

    class Meta:
        model = Lot
        fields = ["id", "vendor", "spec", "code", "date_code", "in_store", "on_trailer"]


class TouchedTireOut(serializers.Serializer[Any]):
    """A tire the notice touches."""

    tire = serializers.UUIDField(source="tire.pk")
    label_code = serializers.CharField(source="tire.label_code")
    rider = serializers.UUIDField(source="tire.owner_id")
    is_certain = serializers.BooleanField(help_text="false: the number on its sidewall has still to be read.")
    wheel_pair = serializers.UUIDField(source="fitting.wheel_pair_id", allow_null=True, default=None)
    is_on_track_today = serializers.SerializerMethodField()
    told_at = serializers.DateTimeField(source="message.told_at", allow_null=True, default=None)
    read_at = serializers.DateTimeField(source="message.read_at", allow_null=True, default=None)

    def get_is_on_track_today(self, row: Any) -> bool:
        """Return whether it is on a bike that is entered today."""
        return row.entry is not None


class ToTellOut(serializers.Serializer[Any]):
    """A rider with touched tires, and whether they know."""

    rider = serializers.UUIDField(source="rider.pk")
    name = serializers.CharField(source="rider.name")
    has_account = serializers.SerializerMethodField()
    told_at = serializers.DateTimeField(
        allow_null=True, help_text="When they were first told, by whatever way."
    )
    read_at = serializers.DateTimeField(allow_null=True)
    is_reached = serializers.BooleanField(help_text="They read the message, or a person told them.")
    contacts = ContactOut(many=True)

    def get_has_account(self, row: Any) -> bool:
        """Return whether the service can tell them."""
        return row.rider.person_id is not None


class AffectedOut(serializers.Serializer[Any]):
    """What a notice touches of what the asker may see, the most urgent first."""

    lots = TouchedLotOut(many=True)
    tires = TouchedTireOut(many=True)
    riders = ToTellOut(many=True)


class RecallFilters(FactFilters):
    """Filters of recalls."""

    reference = filters.CharFilter()
    spec = by_id("spec")
    line = by_id("line")
    entered_for = by_id("entered_for")
    is_open = TruthFilter(field_name="lifted_at", lookup_expr="isnull", label="true: only those not lifted.")


class RecallView(Listed[RecallNotice]):
    """Recalls."""

    queryset = RecallNotice.objects.none()
    serializer_class = RecallOut
    filterset_class: Any = RecallFilters

    def get_queryset(self) -> QuerySet[RecallNotice]:
        """Return the notices the asker may read."""
        return scopes.recalls(self.by, self.at)

    @takes(RecallIn, RecallOut, 201)
    def create(self, _request: Request) -> Response:
        """Put a notice in force: nothing it touches is fitted or sold, and riders are told."""
        return self.created(enter_recall(by=self.by, at=self.at, **self.given(RecallIn)))

    @takes(RecallLiftIn, RecallOut, 200)
    @action(detail=True, methods=["post"])
    def lift(self, _request: Request, **_address: str) -> Response:
        """End a notice that was taken back or dealt with."""
        notice = self.get_object()
        return self.answer(lift_recall(by=self.by, at=self.at, notice=notice, **self.given(RecallLiftIn)))

    @takes(VoidIn, RecallOut, 200)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a notice as entered wrongly."""
        notice = self.get_object()
        return self.answer(void_recall(by=self.by, at=self.at, notice=notice, **self.given(VoidIn)))

    @takes(None, AffectedOut, 200)
    @action(detail=True, methods=["get"], pagination_class=None, filterset_class=None)
    def affected(self, _request: Request, **_address: str) -> Response:
        """Show the stock, the tires and the riders a notice touches now."""
        found = affected_by(self.by, self.get_object(), at=self.at)
        return Response(AffectedOut(found).data)

    @takes(ContactIn, ContactOut, 201)
    @action(detail=True, methods=["post"])
    def contacts(self, _request: Request, **_address: str) -> Response:
        """Note that a person told a rider."""
        notice = self.get_object()
        contact = record_contact(by=self.by, at=self.at, notice=notice, **self.given(ContactIn))
        return Response(ContactOut(contact).data, status=201)
