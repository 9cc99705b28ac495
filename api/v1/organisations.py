"""Organisations the asker has to do with."""

from django.db.models import QuerySet
from rest_framework import serializers

from api.filters import Filters, filters
from api.scopes import own_organisations
from api.views import Listed
from fleet.accounts.models import Organisation


class OrganisationOut(serializers.ModelSerializer[Organisation]):
    """A vendor, an organiser, or both."""

    class Meta:
        model = Organisation
        fields = ["id", "code", "name", "is_vendor", "is_organiser", "contact"]


class OrganisationFilters(Filters):
    """Filters of organisations."""

    code = filters.CharFilter()


class OrganisationView(Listed[Organisation]):
    """Organisations one belongs to, is served by, or entered an event of."""

    queryset = Organisation.objects.none()
    serializer_class = OrganisationOut
    filterset_class = OrganisationFilters

    def get_queryset(self) -> QuerySet[Organisation]:
        """Return the organisations the asker has to do with."""
        return own_organisations(self.by, self.at)
