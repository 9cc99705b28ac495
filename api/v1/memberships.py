"""Memberships: who holds which role in the organisations whose people the asker looks after, and the asker's own."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from api.filters import Filters, by_id, filters
from api.views import Listed
from fleet.accounts.models import Membership, Role
from fleet.accounts.queries import members_for


class MembershipOut(serializers.ModelSerializer[Membership]):
    """One role of one person in one organisation."""

    person_name = serializers.CharField(source="person.name")
    organisation_name = serializers.CharField(source="organisation.name")

    class Meta:
        model = Membership
        fields = ["id", "person", "person_name", "organisation", "organisation_name", "role"]


class MembershipFilters(Filters):
    """Filters of memberships."""

    person = by_id("person")
    organisation = by_id("organisation")
    role = filters.ChoiceFilter(choices=Role.choices)


class MembershipView(Listed[Membership]):
    """Memberships; roles are offered and ended on the page of people."""

    queryset = Membership.objects.none()
    serializer_class = MembershipOut
    filterset_class: Any = MembershipFilters

    def get_queryset(self) -> QuerySet[Membership]:
        """Return the roles the asker may see."""
        return members_for(self.by)
