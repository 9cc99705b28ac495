"""Sharings: what riders let an organisation see, given and taken back."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.filters import Filters, TruthFilter, by_id, since, until
from api.schema import takes
from api.serializers import Choice, In, Related
from api.views import Listed
from fleet.garage.actions import share, take_back
from fleet.garage.models import Sharing
from fleet.garage.queries import require_garage, sharings_for


class SharingOut(serializers.ModelSerializer[Sharing]):
    """A rider's permission; it stands until it is taken back."""

    organisation_name = serializers.CharField(source="organisation.name")

    class Meta:
        model = Sharing
        fields = ["id", "rider", "organisation", "organisation_name", "scope", "granted_at", "withdrawn_at"]


class SharingIn(In):
    """Whom the rider who asks lets in (`/organisation-names` lists them), and to what."""

    organisation = Related(scopes.organisations_to_let_in)
    scope = Choice(Sharing.Scope.choices)


class SharingFilters(Filters):
    """Filters of sharings."""

    rider = by_id("rider")
    organisation = by_id("organisation")
    is_withdrawn = TruthFilter(field_name="withdrawn_at", lookup_expr="isnull", exclude=True)
    since = since("granted_at")
    until = until("granted_at")


class SharingView(Listed[Sharing]):
    """Sharings: riders see all of their own, organisations what they may look at now."""

    queryset = Sharing.objects.none()
    serializer_class = SharingOut
    filterset_class: Any = SharingFilters

    def get_queryset(self) -> QuerySet[Sharing]:
        """Return the sharings the asker gave or was given."""
        return sharings_for(self.by)

    @takes(SharingIn, SharingOut, 201)
    def create(self, _request: Request) -> Response:
        """Let an organisation see something of the asker's own."""
        rider = require_garage(self.by)
        return self.created(share(by=self.by, at=self.at, rider=rider, **self.given(SharingIn)))

    @takes(None, SharingOut, 200)
    @action(detail=True, methods=["post"])
    def withdraw(self, _request: Request, **_address: str) -> Response:
        """Take a permission back; it ends at once."""
        return self.answer(take_back(by=self.by, at=self.at, sharing=self.get_object()))
