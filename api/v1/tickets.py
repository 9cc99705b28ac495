"""Job tickets: wheels handed in at a trailer."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, by_id, filters
from api.schema import takes
from api.serializers import Choice, Date, In, Moment, Related, Text
from api.views import Listed
from fleet.inventory.actions import advance_ticket, take_wheels_in
from fleet.inventory.models import JobTicket


class TicketOut(serializers.ModelSerializer[JobTicket]):
    """A rider's wheels in the work."""

    rider = serializers.UUIDField(source="wheel_pair.bike.rider_id")
    rider_name = serializers.CharField(source="wheel_pair.bike.rider.name")

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
        ]


class TicketIn(In):
    """Wheels to take in; ``opened_on`` is the date at the trailer."""

    vendor = Related(scopes.own_organisations)
    wheel_pair = Related(scopes.wheel_pairs)
    opened_on = Date()
    wish = Text(max_length=200, required=False, allow_blank=True)
    promised_at = Moment(required=False, allow_null=True)


class TicketStateIn(In):
    """Where the wheels are now."""

    state = Choice(JobTicket.State.choices)


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

    def get_queryset(self) -> QuerySet[JobTicket]:
        """Return the tickets of the asker's vendors."""
        return scopes.tickets(self.by, self.at)

    @takes(TicketIn, TicketOut, 201)
    def create(self, _request: Request) -> Response:
        """Take a rider's wheels in."""
        return self.created(take_wheels_in(by=self.by, at=self.at, **self.given(TicketIn)))

    @takes(TicketStateIn, TicketOut, 200)
    @action(detail=True, methods=["post"])
    def state(self, _request: Request, **_address: str) -> Response:
        """Move a ticket to another state."""
        ticket = self.get_object()
        return self.answer(advance_ticket(by=self.by, ticket=ticket, **self.given(TicketStateIn)))
