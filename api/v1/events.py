"""Events of organisers."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, TruthFilter, by_id, filters
from api.schema import takes
from api.serializers import In, Related, Text, Truth
from api.views import Listed
from fleet.events.actions import correct_event, plan_event
from fleet.events.models import Event


class EventOut(serializers.ModelSerializer[Event]):
    """One or several days at a track; where it takes entries, who rides may enter themselves."""

    organiser_name = serializers.CharField(source="organiser.name")

    class Meta:
        model = Event
        fields = ["id", "organiser", "organiser_name", "code", "name", "takes_entries"]


class EventIn(In):
    """An event to plan."""

    organiser = Related(scopes.own_organisations)
    code = Text(max_length=60)
    name = Text(max_length=100)
    takes_entries = Truth(required=False)


class EventCorrectionIn(In):
    """What to correct of an event; what is left out stays."""

    name = Text(max_length=100, required=False)
    takes_entries = Truth(required=False)


class EventFilters(Filters):
    """Filters of events."""

    code = filters.CharFilter()
    organiser = by_id("organiser")
    takes_entries = TruthFilter()


class EventView(Listed[Event]):
    """Events."""

    queryset = Event.objects.none()
    serializer_class = EventOut
    filterset_class = EventFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Event]:
        """Return the events the asker may see."""
        return scopes.events(self.by, self.at)

    @takes(EventIn, EventOut, 201)
    def create(self, _request: Request) -> Response:
        """Plan an event."""
        return self.created(plan_event(by=self.by, **self.given(EventIn)))

    @takes(EventCorrectionIn, EventOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct an event."""
        with self.unchanged() as event:
            return self.answer(correct_event(by=self.by, event=event, **self.given(EventCorrectionIn)))
