"""Wheel pairs: which wheels a bike has, and which are on it."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, TruthFilter, by_id, filters
from api.schema import takes
from api.serializers import In, Related, Text, Truth
from api.views import Listed
from fleet.garage.actions import add_wheel_pair, correct_wheel_pair, use_wheel_pair
from fleet.garage.models import WheelPair


class WheelPairOut(serializers.ModelSerializer[WheelPair]):
    """One front and one rear wheel that go on a bike together."""

    rider = serializers.UUIDField(source="bike.rider_id")

    class Meta:
        model = WheelPair
        fields = ["id", "bike", "rider", "code", "name", "is_in_use"]


class WheelPairIn(In):
    """A wheel pair to add; one in use puts the bike's other pair aside."""

    bike = Related(scopes.bikes)
    code = Text(max_length=40)
    name = Text(max_length=40)
    is_in_use = Truth(required=False)


class WheelPairCorrectionIn(In):
    """What to correct of a wheel pair; what is left out stays."""

    name = Text(max_length=40, required=False)


class WheelPairFilters(Filters):
    """Filters of wheel pairs."""

    code = filters.CharFilter()
    bike = by_id("bike")
    rider = by_id("bike__rider")
    is_in_use = TruthFilter()


class WheelPairView(Listed[WheelPair]):
    """Wheel pairs."""

    queryset = WheelPair.objects.none()
    serializer_class = WheelPairOut
    filterset_class = WheelPairFilters
    edits = frozenset({"partial_update", "use"})

    def get_queryset(self) -> QuerySet[WheelPair]:
        """Return the wheel pairs the asker may see."""
        return scopes.wheel_pairs(self.by, self.at)

    @takes(WheelPairIn, WheelPairOut, 201)
    def create(self, _request: Request) -> Response:
        """Add a wheel pair of a bike."""
        return self.created(add_wheel_pair(by=self.by, **self.given(WheelPairIn)))

    @takes(None, WheelPairOut, 200)
    @action(detail=True, methods=["post"])
    def use(self, _request: Request, **_address: str) -> Response:
        """Put a wheel pair on its bike and the bike's other pair aside."""
        with self.unchanged() as pair:
            return self.answer(use_wheel_pair(by=self.by, wheel_pair=pair))

    @takes(WheelPairCorrectionIn, WheelPairOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct a wheel pair."""
        with self.unchanged() as pair:
            return self.answer(
                correct_wheel_pair(by=self.by, wheel_pair=pair, **self.given(WheelPairCorrectionIn))
            )
