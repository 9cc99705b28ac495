"""Job tickets: wheels handed in at a trailer."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Choice, Date, In, Key, Moment, Related, Text
from api.views import Listed
from fleet.catalogue.models import Axle
from fleet.inventory.actions import advance_ticket, correct_ticket, take_wheels_in
from fleet.inventory.models import JobTicket, Removal, TicketWish


class WishOut(serializers.ModelSerializer[TicketWish]):
    """What is wished for one wheel: what goes on, where it is known, and what happens with what comes off."""

    class Meta:
        model = TicketWish
        fields = ["axle", "spec", "own_tire", "destination", "wished_at"]


class TicketOut(serializers.ModelSerializer[JobTicket]):
    """A rider's wheels in the work."""

    rider = serializers.UUIDField(source="wheel_pair.bike.rider_id")
    rider_name = serializers.CharField(source="wheel_pair.bike.rider.name")
    wishes = WishOut(many=True)

    class Meta:
        model = JobTicket
        fields = [
            "id",
            "vendor",
            "wheel_pair",
            "rider",
            "rider_name",
            "number",
            "opened_on",
            "opened_at",
            "promised_at",
            "state",
            "wish",
            "wishes",
        ]


class WishIn(In):
    """A wheel to work on: a spec from stock (``spec``) or one of the rider's own (``own_tire``) goes on, or neither is known."""

    axle = Choice(Axle.choices)
    spec = Related(scopes.specs, required=False, allow_null=True)
    own_tire = Related(scopes.tires, required=False, allow_null=True)
    destination = Choice(Removal.Destination.choices, required=False, allow_blank=True)


class TicketIn(In):
    """Wheels to take in; ``opened_on`` is the date at the trailer, ``opened_at`` only where they came in before now."""

    vendor = Related(scopes.own_organisations)
    wheel_pair = Related(scopes.wheel_pairs)
    opened_on = Date()
    opened_at = Moment(required=False)
    wish = Text(max_length=200, required=False, allow_blank=True)
    promised_at = Moment(required=False, allow_null=True)
    wishes = serializers.ListField(child=WishIn(), max_length=2, required=False)
    key = Key()


class TicketCorrectionIn(In):
    """What to correct of a ticket; what is left out stays, ``wishes`` are all there are."""

    wish = Text(max_length=200, required=False, allow_blank=True)
    promised_at = Moment(required=False, allow_null=True)
    wishes = serializers.ListField(child=WishIn(), max_length=2, required=False)


class TicketStateIn(In):
    """Where the wheels are now; the key of a move sent before changes nothing more."""

    state = Choice(JobTicket.State.choices)
    key = Key()


class TicketFilters(Filters):
    """Filters of job tickets."""

    vendor = by_id("vendor")
    wheel_pair = by_id("wheel_pair")
    rider = by_id("wheel_pair__bike__rider")
    opened_on = filters.DateFilter()
    state = filters.ChoiceFilter(choices=JobTicket.State.choices)


class TicketView(Listed[JobTicket]):
    """Job tickets."""

    queryset = JobTicket.objects.none()
    serializer_class = TicketOut
    filterset_class = TicketFilters
    edits = frozenset({"state", "partial_update"})

    def get_queryset(self) -> QuerySet[JobTicket]:
        """Return the tickets of the asker's vendors and of their own wheels."""
        return scopes.tickets(self.by, self.at)

    @takes(TicketIn, TicketOut, 201)
    def create(self, _request: Request) -> Response:
        """Take a rider's wheels in."""
        return self.created(take_wheels_in(by=self.by, at=self.at, **self.given(TicketIn)))

    @takes(TicketCorrectionIn, TicketOut, 200)
    def partial_update(self, _request: Request, **_address: str) -> Response:
        """Correct what is wished and when it is wanted."""
        with self.unchanged() as ticket:
            given = self.given(TicketCorrectionIn)
            return self.answer(correct_ticket(by=self.by, at=self.at, ticket=ticket, **given))

    @takes(TicketStateIn, TicketOut, 200)
    @action(detail=True, methods=["post"])
    def state(self, _request: Request, **_address: str) -> Response:
        """Move a ticket to another state."""
        with self.unchanged() as ticket:
            return self.answer(advance_ticket(by=self.by, ticket=ticket, **self.given(TicketStateIn)))
