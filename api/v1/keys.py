"""API keys: listed and revoked; they are made on the page of API keys alone."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.filters import Filters, TruthFilter, by_id, since, until
from api.schema import takes
from api.views import Listed
from fleet.accounts.actions import revoke_key
from fleet.accounts.models import ApiKey, Scope
from fleet.accounts.queries import keys_for


class ApiKeyOut(serializers.ModelSerializer[ApiKey]):
    """A key without its secret, which nobody can read again."""

    scopes = serializers.ListField(child=serializers.ChoiceField(Scope.choices))
    prefix = serializers.CharField(help_text="The part of the key between its two lines; no secret.")

    class Meta:
        model = ApiKey
        fields = [
            "id",
            "organisation",
            "name",
            "scopes",
            "prefix",
            "made_by",
            "made_at",
            "expires_at",
            "last_used_on",
            "revoked_at",
            "revoked_by",
        ]


class ApiKeyFilters(Filters):
    """Filters of API keys."""

    organisation = by_id("organisation")
    is_revoked = TruthFilter(field_name="revoked_at", lookup_expr="isnull", exclude=True)
    since = since("made_at")
    until = until("made_at")


class ApiKeyView(Listed[ApiKey]):
    """The keys somebody looks after: their own and those of organisations whose keys they manage."""

    queryset = ApiKey.objects.none()
    serializer_class = ApiKeyOut
    filterset_class: Any = ApiKeyFilters

    def get_queryset(self) -> QuerySet[ApiKey]:
        """Return the keys the asker looks after."""
        return keys_for(self.by)

    @takes(None, ApiKeyOut, 200)
    @action(detail=True, methods=["post"])
    def revoke(self, _request: Request, **_address: str) -> Response:
        """End a key at once and for good; a program may not, only somebody signed in."""
        return self.answer(revoke_key(by=self.by, at=self.at, api_key=self.get_object()))
