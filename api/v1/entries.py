"""Entries: who rides what in which group on a day."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import In, Related, Text, Truth
from api.views import Listed
from fleet.events.actions import correct_entry, enter, enter_oneself, leave, withdraw_entry
from fleet.events.models import Entry
from fleet.events.queries import entries_for
from fleet.garage.queries import owns


class EntryOut(serializers.ModelSerializer[Entry]):
    """A rider with a bike in a group on a day."""

    rider_name = serializers.CharField(source="rider.name")
    bike_description = serializers.CharField(source="bike.description")
    group_name = serializers.CharField(source="group.name")

    class Meta:
        model = Entry
        fields = [
            "id",
            "day",
            "rider",
            "rider_name",
            "bike",
            "bike_description",
            "group",
            "group_name",
            "number",
            "uses_warmers",
        ]


class EntryIn(In):
    """A bike to enter; its rider comes with it."""

    day = Related(scopes.days)
    bike = Related(scopes.bikes_to_enter)
    group = Related(scopes.groups)
    number = Text(max_length=6)
    uses_warmers = Truth(required=False)


class EntryCorrectionIn(In):
    """What to correct of an entry; what is left out stays."""

    group = Related(scopes.groups, required=False)
    number = Text(max_length=6, required=False)
    uses_warmers = Truth(required=False)


class EntryFilters(Filters):
    """Filters of entries."""

    day = by_id("day")
    rider = by_id("rider")
    group = by_id("group")
    number = filters.CharFilter()


class EntryView(Listed[Entry]):
    """Entries."""

    queryset = Entry.objects.none()
    serializer_class = EntryOut
    filterset_class = EntryFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Entry]:
        """Return the entries the asker may see."""
        return entries_for(self.by)

    @takes(EntryIn, EntryOut, 201)
    def create(self, _request: Request) -> Response:
        """Enter a bike of one's own, or one of a rider who agreed to ride with one's organisation."""
        given = self.given(EntryIn)
        if owns(self.by, given["bike"].rider):
            return self.created(enter_oneself(by=self.by, at=self.at, **given))
        return self.created(enter(by=self.by, **given))

    @takes(None, None, 204)
    @action(detail=True, methods=["post"])
    def withdraw(self, _request: Request, **_address: str) -> Response:
        """Take an entry off its day; riders take their own off before it comes."""
        entry = self.get_object()
        if owns(self.by, entry.rider):
            leave(by=self.by, at=self.at, entry=entry)
        else:
            withdraw_entry(by=self.by, entry=entry)
        return Response(status=204)

    @takes(EntryCorrectionIn, EntryOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct an entry."""
        with self.unchanged() as entry:
            return self.answer(correct_entry(by=self.by, entry=entry, **self.given(EntryCorrectionIn)))
