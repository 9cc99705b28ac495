"""Pace groups of events, and their slots on track."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, since, until
from api.schema import takes
from api.serializers import In, Moment, Number, Related, Text
from api.views import Listed
from fleet.events.actions import add_group, add_slot, correct_group, correct_slot
from fleet.events.models import Group, Slot
from fleet.events.queries import slots_for


class GroupOut(serializers.ModelSerializer[Group]):
    """Riders of one pace."""

    class Meta:
        model = Group
        fields = ["id", "event", "name", "usual_lap_s"]


class GroupIn(In):
    """A pace group to add."""

    event = Related(scopes.events)
    name = Text(max_length=40)
    usual_lap_s = Number(required=False, allow_null=True)


class SlotOut(serializers.ModelSerializer[Slot]):
    """One stretch of time in which a group is on track."""

    group_name = serializers.CharField(source="group.name")

    class Meta:
        model = Slot
        fields = ["id", "day", "group", "group_name", "starts_at", "ends_at"]


class SlotIn(In):
    """A slot to add."""

    day = Related(scopes.days)
    group = Related(scopes.groups)
    starts_at = Moment()
    ends_at = Moment()


class GroupCorrectionIn(In):
    """What to correct of a pace group; what is left out stays."""

    name = Text(max_length=40, required=False)
    usual_lap_s = Number(required=False, allow_null=True)


class GroupFilters(Filters):
    """Filters of groups."""

    event = by_id("event")


class SlotCorrectionIn(In):
    """What to correct of a slot; what is left out stays."""

    group = Related(scopes.groups, required=False)
    starts_at = Moment(required=False)
    ends_at = Moment(required=False)


class SlotFilters(Filters):
    """Filters of slots."""

    day = by_id("day")
    group = by_id("group")
    since = since("starts_at")
    until = until("starts_at")


class GroupView(Listed[Group]):
    """Pace groups."""

    queryset = Group.objects.none()
    serializer_class = GroupOut
    filterset_class = GroupFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Group]:
        """Return the groups of the events the asker may see."""
        return scopes.groups(self.by, self.at)

    @takes(GroupIn, GroupOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a pace group to an event."""
        return self.created(add_group(by=self.by, **self.given(GroupIn)))

    @takes(GroupCorrectionIn, GroupOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a pace group."""
        with self.unchanged() as group:
            return self.answer(correct_group(by=self.by, group=group, **self.given(GroupCorrectionIn)))


class SlotView(Listed[Slot]):
    """Slots on track."""

    queryset = Slot.objects.none()
    serializer_class = SlotOut
    filterset_class = SlotFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Slot]:
        """Return the slots of the days the asker may see."""
        return slots_for(self.by)

    @takes(SlotIn, SlotOut, 201)
    def create(self, _request: Request) -> Response:
        """Give a group a time on track."""
        return self.created(add_slot(by=self.by, **self.given(SlotIn)))

    @takes(SlotCorrectionIn, SlotOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a slot."""
        with self.unchanged() as slot:
            return self.answer(correct_slot(by=self.by, slot=slot, **self.given(SlotCorrectionIn)))
