"""Invitations: links with which walk-ins take over their records."""

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
from api.serializers import In, Related
from api.views import Listed
from fleet.garage.actions import invite, revoke_invitation
from fleet.garage.models import Invitation
from fleet.garage.queries import invitations_for


class InvitationOut(serializers.ModelSerializer[Invitation]):
    """A walk-in's invitation and what became of it."""

    class Meta:
        model = Invitation
        fields = ["id", "rider", "made_by", "made_at", "expires_at", "revoked_at", "claimed_at"]


class MadeInvitationOut(InvitationOut):
    """An invitation as it was made, with its link."""

    link = serializers.CharField(
        allow_null=True,
        help_text="To hand to the rider; shown this once, and null when the answer is repeated.",
    )

    class Meta(InvitationOut.Meta):
        fields = [*InvitationOut.Meta.fields, "link"]


class InvitationIn(In):
    """Whom to invite: a rider without an account whom the asker's organisation registered."""

    rider = Related(scopes.riders_to_invite)


class InvitationFilters(Filters):
    """Filters of invitations."""

    rider = by_id("rider")
    is_claimed = TruthFilter(field_name="claimed_at", lookup_expr="isnull", exclude=True)
    is_revoked = TruthFilter(field_name="revoked_at", lookup_expr="isnull", exclude=True)
    since = since("made_at")
    until = until("made_at")


class InvitationView(Listed[Invitation]):
    """Invitations."""

    queryset = Invitation.objects.none()
    serializer_class = InvitationOut
    filterset_class: Any = InvitationFilters
    secrets = frozenset({"link"})

    def get_queryset(self) -> QuerySet[Invitation]:
        """Return the invitations that the asker's organisations made."""
        return invitations_for(self.by)

    @takes(InvitationIn, MadeInvitationOut, 201)
    def create(self, request: Request) -> Response:
        """Make a walk-in's invitation; one made earlier ends."""
        made, token = invite(by=self.by, at=self.at, **self.given(InvitationIn))
        answer = self.created(made)
        answer.data |= {"link": request.build_absolute_uri(reverse("claim", args=[token]))}
        return answer

    @takes(None, InvitationOut, 200)
    @action(detail=True, methods=["post"])
    def revoke(self, _request: Request, **_address: str) -> Response:
        """End an invitation at once; one that was used or ended before stays as it is."""
        invitation = self.get_object()
        revoke_invitation(by=self.by, at=self.at, invitation=invitation)
        return self.answer(invitation)
