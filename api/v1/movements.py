"""Stock movements: the lines of the lots' ledgers."""

from typing import Final

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import FactFilters, by_id, filters, since, until
from api.schema import takes
from api.serializers import Choice, In, Key, Moment, Related, Text, Whole
from api.views import Listed
from fleet.inventory.actions import move_stock
from fleet.inventory.models import Place, StockMovement
from fleet.inventory.queries import movements_for

# A fitting writes its own line, and loading writes a pair of lines; neither is written alone.
WRITTEN_ALONE: Final = [
    choice
    for choice in StockMovement.Kind.choices
    if choice[0] not in {StockMovement.Kind.FITTED, StockMovement.Kind.LOADED}
]


class MovementOut(serializers.ModelSerializer[StockMovement]):
    """One line of a lot's ledger."""

    class Meta:
        model = StockMovement
        fields = [
            "id",
            "lot",
            "kind",
            "place",
            "quantity",
            "moved_at",
            "reason",
            "reservation",
            "recorded_by",
            "recorded_at",
            "voided_at",
            "void_reason",
        ]


class MovementIn(In):
    """A line to write; a count is the difference found."""

    lot = Related(scopes.lots)
    kind = Choice(WRITTEN_ALONE)
    place = Choice(Place.choices)
    quantity = Whole(help_text="Tires added; negative: taken away.")
    moved_at = Moment()
    reason = Text(max_length=200, required=False, allow_blank=True)
    reservation = Related(
        scopes.reservations, required=False, allow_null=True, help_text="The reservation a sale hands over."
    )
    despite_reserved = Text(
        max_length=200, required=False, allow_blank=True, help_text="Why what others reserved is sold."
    )
    key = Key()


class MovementFilters(FactFilters):
    """Filters of movements."""

    lot = by_id("lot")
    spec = by_id("lot__spec")
    kind = filters.ChoiceFilter(choices=StockMovement.Kind.choices)
    place = filters.ChoiceFilter(choices=Place.choices)
    since = since("moved_at")
    until = until("moved_at")


class MovementView(Listed[StockMovement]):
    """Stock movements."""

    queryset = StockMovement.objects.none()
    serializer_class = MovementOut
    filterset_class = MovementFilters

    def get_queryset(self) -> QuerySet[StockMovement]:
        """Return the ledger lines of the asker's vendors."""
        return movements_for(self.by)

    @takes(MovementIn, MovementOut, 201)
    def create(self, _request: Request) -> Response:
        """Write a line into a lot's ledger."""
        return self.created(move_stock(by=self.by, at=self.at, **self.given(MovementIn)))
