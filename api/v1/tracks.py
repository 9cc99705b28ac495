"""Tracks and their layouts. Public places, read only here."""

from django.db.models import QuerySet
from rest_framework import serializers

from api import scopes
from api.filters import Filters, by_id, filters
from api.views import Listed
from fleet.events.models import Layout, Track


class LayoutOut(serializers.ModelSerializer[Layout]):
    """One way of running a track."""

    class Meta:
        model = Layout
        fields = ["id", "track", "code", "name", "length_km"]


class TrackOut(serializers.ModelSerializer[Track]):
    """A circuit with its layouts."""

    layouts = LayoutOut(many=True)

    class Meta:
        model = Track
        fields = [
            "id",
            "code",
            "name",
            "latitude_deg",
            "longitude_deg",
            "altitude_m",
            "time_zone",
            "layouts",
        ]


class TrackFilters(Filters):
    """Filters of tracks."""

    code = filters.CharFilter()


class LayoutFilters(Filters):
    """Filters of layouts."""

    code = filters.CharFilter()
    track = by_id("track")


class TrackView(Listed[Track]):
    """Tracks."""

    queryset = Track.objects.none()
    serializer_class = TrackOut
    filterset_class = TrackFilters

    def get_queryset(self) -> QuerySet[Track]:
        """Return all tracks."""
        return scopes.tracks(self.by, self.at)


class LayoutView(Listed[Layout]):
    """Layouts of tracks."""

    queryset = Layout.objects.none()
    serializer_class = LayoutOut
    filterset_class = LayoutFilters

    def get_queryset(self) -> QuerySet[Layout]:
        """Return all layouts."""
        return scopes.layouts(self.by, self.at)
