"""Handovers: tires that one rider offers to another by a link."""

from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, TruthFilter, by_id, since, until
from api.schema import takes
from api.serializers import In, Related, Text
from api.views import Listed
from fleet.inventory.actions import accept_tire, decline_tire, offer_tire, withdraw_offer
from fleet.inventory.handover import Handover
from fleet.inventory.ownership import handovers_for


class HandoverOut(serializers.ModelSerializer[Handover]):
    """A tire offered to another rider, and what became of it; the other one is not named to either side."""

    is_given = serializers.SerializerMethodField(help_text="Whether the asker is the one who gives it.")

    class Meta:
        model = Handover
        fields = [
            "id",
            "tire",
            "is_given",
            "offered_at",
            "expires_at",
            "withdrawn_at",
            "declined_at",
            "handed_at",
        ]

    def get_is_given(self, handover: Handover) -> bool:
        """Return whether who asks is the giver."""
        return bool(handover.giver.person_id == self.context["request"].user.pk)


class MadeHandoverOut(HandoverOut):
    """A handover as it was offered, with its link and the token in it."""

    link = serializers.CharField(
        allow_null=True,
        help_text="To show or send to the rider who takes the tire; shown this once, and null when the answer is repeated.",
    )
    token = serializers.CharField(
        allow_null=True, help_text="What the link ends with, for `accept` and `decline`."
    )

    class Meta(HandoverOut.Meta):
        fields = [*HandoverOut.Meta.fields, "link", "token"]


class HandoverIn(In):
    """Which tire: one of the asker's own, on no wheel."""

    tire = Related(scopes.own_tires)


class TokenIn(In):
    """The token a link ends with."""

    token = Text(max_length=80)


class HandoverFilters(Filters):
    """Filters of handovers."""

    tire = by_id("tire")
    is_done = TruthFilter(field_name="handed_at", lookup_expr="isnull", exclude=True)
    since = since("offered_at")
    until = until("offered_at")


class HandoverView(Listed[Handover]):
    """Handovers."""

    queryset = Handover.objects.none()
    serializer_class = HandoverOut
    filterset_class: Any = HandoverFilters
    secrets = frozenset({"link", "token"})

    def get_queryset(self) -> QuerySet[Handover]:
        """Return what the asker offered, gave and took."""
        return handovers_for(self.by)

    @takes(HandoverIn, MadeHandoverOut, 201)
    def create(self, request: Request) -> Response:
        """Offer a tire by a link; one made earlier for it ends."""
        made, token = offer_tire(by=self.by, at=self.at, **self.given(HandoverIn))
        answer = self.created(made)
        link = request.build_absolute_uri(reverse("take-over", args=[token]))
        answer.data |= {"link": link, "token": token}
        return answer

    @takes(None, HandoverOut, 200)
    @action(detail=True, methods=["post"])
    def withdraw(self, _request: Request, **_address: str) -> Response:
        """Take a link back at once; one that was answered or ended before stays as it is."""
        offer = self.get_object()
        withdraw_offer(by=self.by, at=self.at, offer=offer)
        return self.answer(offer)

    @takes(TokenIn, HandoverOut, 200)
    @action(detail=False, methods=["post"])
    def accept(self, _request: Request) -> Response:
        """Take the tire over: it is the asker's from now on, with all it ran."""
        return self.answer(accept_tire(by=self.by, at=self.at, **self.given(TokenIn)))

    @takes(TokenIn, HandoverOut, 200)
    @action(detail=False, methods=["post"])
    def decline(self, _request: Request) -> Response:
        """Say no to the tire: nothing changes, and the link is over."""
        declined = decline_tire(by=self.by, at=self.at, **self.given(TokenIn))
        return self.shown(declined)  # not among the asker's own: nothing became theirs
