"""Organisations the asker has to do with."""

from django.db.models import QuerySet
from rest_framework import serializers

from api.filters import Filters, filters
from api.scopes import organisations_to_let_in, own_organisations
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


class OrganisationNameOut(serializers.ModelSerializer[Organisation]):
    """An organisation by its name and no more."""

    class Meta:
        model = Organisation
        fields = ["id", "code", "name"]


class OrganisationNameView(Listed[Organisation]):
    """The names of all organisations: a rider may let in any of them."""

    queryset = Organisation.objects.none()
    serializer_class = OrganisationNameOut
    filterset_class = OrganisationFilters

    def get_queryset(self) -> QuerySet[Organisation]:
        """Return all organisations."""
        return organisations_to_let_in(self.by, self.at)
