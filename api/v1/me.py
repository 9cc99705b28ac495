"""The person who asks: who they are, what they do for whom, and the units they see."""

from typing import Any

from django.db.models import QuerySet
from django.middleware.csrf import get_token
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.schema import takes
from api.scopes import oneself
from api.serializers import Choice, In
from api.views import Resource
from fleet.accounts.actions import choose_units
from fleet.accounts.models import Membership, Person


class RoleOut(serializers.ModelSerializer[Membership]):
    """One role in one organisation."""

    organisation_name = serializers.CharField(source="organisation.name")

    class Meta:
        model = Membership
        fields = ["organisation", "organisation_name", "role"]


class MeOut(serializers.ModelSerializer[Person]):
    """The person who asks."""

    rider = serializers.SerializerMethodField(help_text="Id of the person's rider record, if there is one.")
    roles = RoleOut(source="memberships", many=True)

    class Meta:
        model = Person
        fields = [
            "id",
            "name",
            "email",
            "pressure_unit",
            "temperature_unit",
            "depth_unit",
            "distance_unit",
            "rider",
            "roles",
        ]

    def get_rider(self, person: Person) -> str | None:
        """Return the id of the person's rider record."""
        rider = getattr(person, "rider", None)
        return str(rider.pk) if rider else None


class UnitsIn(In):
    """The units the pages show; the API itself always speaks SI."""

    pressure_unit = Choice(Person.PressureUnit.choices)
    temperature_unit = Choice(Person.TemperatureUnit.choices)
    depth_unit = Choice(Person.DepthUnit.choices)
    distance_unit = Choice(Person.DistanceUnit.choices)


class MeView(Resource[Person]):
    """The person who asks."""

    queryset = Person.objects.none()
    serializer_class = MeOut
    filter_backends: list[Any] = []
    pagination_class = None
    edits = frozenset({"units"})

    def get_queryset(self) -> QuerySet[Person]:
        """Return the person who asks, with their roles."""
        return oneself(self.by, self.at).select_related("rider").prefetch_related("memberships__organisation")

    @takes(None, MeOut, 200)
    def retrieve(self, request: Request) -> Response:
        """Return who is signed in; the answer also sets the cookie with the CSRF token that writes need."""
        get_token(request._request)  # noqa: SLF001 - the Django request under the framework's
        return self.read(self.get_queryset().get())

    @takes(UnitsIn, MeOut, 200)
    def units(self, _request: Request) -> Response:
        """Change the units the pages show."""
        with self.unchanged():
            return self.answer(choose_units(by=self.by, **self.given(UnitsIn)))
