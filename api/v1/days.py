"""Days of events, and what is computed and issued for them."""

from django.db.models import QuerySet
from django.http import Http404
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Choice, Date, In, Related
from api.v1.bulletins import BulletinOut
from api.v1.guidance import GuidanceOut, StartPressureOut, guidance_seen_by
from api.views import Listed
from fleet.accounts.policy import Right, require
from fleet.events.actions import add_day, correct_day
from fleet.events.models import Day, DayParts
from fleet.garage.queries import own_rider
from fleet.pressures.actions import draft_day, issue_bulletin
from fleet.pressures.followed import lines_to_set
from fleet.pressures.queries import guidance_for


class DayOut(serializers.ModelSerializer[Day]):
    """A date of an event on one layout."""

    event_name = serializers.CharField(source="event.name")
    track = serializers.UUIDField(source="layout.track_id")
    time_zone = serializers.CharField(source="layout.track.time_zone")

    class Meta:
        model = Day
        fields = [
            "id",
            "event",
            "event_name",
            "date",
            "layout",
            "parts",
            "track",
            "time_zone",
            "public_code",
            "revision",
        ]


class DayIn(In):
    """A day to add to an event."""

    event = Related(scopes.events)
    date = Date()
    layout = Related(scopes.layouts)
    parts = Choice(DayParts.choices, required=False)


class IssueIn(In):
    """The draft that was looked at; when a newer one exists, nothing is issued."""

    guidance = Related(scopes.drafts, required=False, allow_null=True)


class DayCorrectionIn(In):
    """What to correct of a day; what is left out stays."""

    date = Date(required=False)
    layout = Related(scopes.layouts, required=False)
    parts = Choice(DayParts.choices, required=False)


class DayFilters(Filters):
    """Filters of days."""

    event = by_id("event")
    layout = by_id("layout")
    since = filters.DateFilter(field_name="date", lookup_expr="gte", label="On or after this date.")
    until = filters.DateFilter(field_name="date", lookup_expr="lt", label="Before this date.")


class DayView(Listed[Day]):
    """Days."""

    queryset = Day.objects.none()
    serializer_class = DayOut
    filterset_class = DayFilters
    edits = frozenset({"partial_update"})

    def get_queryset(self) -> QuerySet[Day]:
        """Return the days the asker may see."""
        return scopes.days(self.by, self.at)

    @takes(DayIn, DayOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a day to an event."""
        return self.created(add_day(by=self.by, **self.given(DayIn)))

    @takes(None, GuidanceOut, 200)
    @action(detail=True, methods=["get"])
    def guidance(self, _request: Request, **_address: str) -> Response:
        """Show the newest draft of a day's start pressures to those who prepare its bulletin."""
        day = self.get_object()
        require(self.by, Right.READ_GUIDANCE, day.event.organiser)
        guidance = guidance_for(self.by, day)
        if guidance is None:
            raise Http404
        return Response(guidance_seen_by(self.by, day, guidance, at=self.at))

    @takes(None, StartPressureOut(many=True), 200)
    @action(detail=True, methods=["get"], url_path="own-lines", pagination_class=None, filterset_class=None)
    def own_lines(self, _request: Request, **_address: str) -> Response:
        """Show riders what to set on their own tires on a day, front first: now, and in each later part of the day."""
        day, rider = self.get_object(), own_rider(self.by)
        now = lines_to_set(rider, day, at=self.at) if rider else []
        return Response(
            StartPressureOut([one for line in now for one in (line, *line.later)], many=True).data
        )

    @takes(None, GuidanceOut, 201)
    @action(detail=True, methods=["post"])
    def draft(self, _request: Request, **_address: str) -> Response:
        """Compute a day's start pressures now instead of waiting for the background job."""
        day = self.get_object()
        guidance = draft_day(by=self.by, at=self.at, day=day)
        return Response(guidance_seen_by(self.by, day, guidance, at=self.at), status=201)

    @takes(IssueIn, BulletinOut, 201)
    @action(detail=True, methods=["post"])
    def bulletins(self, _request: Request, **_address: str) -> Response:
        """Issue a day's newest draft as its next bulletin."""
        day = self.get_object()
        bulletin = issue_bulletin(by=self.by, at=self.at, day=day, **self.given(IssueIn))
        return Response(BulletinOut(bulletin).data, status=201)

    @takes(DayCorrectionIn, DayOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a day."""
        with self.unchanged() as day:
            return self.answer(correct_day(by=self.by, day=day, **self.given(DayCorrectionIn)))
