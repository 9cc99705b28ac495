"""What the person who asks is told about, and how: on the page, by e-mail."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.schema import takes
from api.scopes import oneself
from api.serializers import Choice, In
from api.views import Resource
from fleet.accounts.models import Person
from fleet.notices.actions import choose_telling
from fleet.notices.models import Kind
from fleet.notices.queries import Ways, ways_of


class WayOut(serializers.Serializer[Any]):
    """One kind of thing, and how the person is told about it."""

    kind = serializers.ChoiceField(choices=Kind.choices)
    on_page = serializers.BooleanField()
    by_mail = serializers.BooleanField()


class TellingOut(serializers.ModelSerializer[Person]):
    """How the person who asks is told about each kind of thing."""

    choices = serializers.SerializerMethodField(
        help_text="Every kind; one that nobody chose for stands as the service does it by itself."
    )

    class Meta:
        model = Person
        fields = ["choices"]

    @extend_schema_field(WayOut(many=True))
    def get_choices(self, person: Person) -> list[dict[str, Any]]:
        """Return every kind with its ways."""
        return [{"kind": str(kind), **way._asdict()} for kind, way in ways_of(person).items()]


class WayIn(In):
    """One kind of thing: what must not be used always stands on the page."""

    kind = Choice(Kind.choices)
    on_page = serializers.BooleanField()
    by_mail = serializers.BooleanField()


class TellingIn(In):
    """The kinds to choose for; what is left out stays."""

    choices = serializers.ListField(child=WayIn(), min_length=1, max_length=len(Kind))


class TellingView(Resource[Person]):
    """What the person who asks is told."""

    queryset = Person.objects.none()
    serializer_class = TellingOut
    filter_backends: list[Any] = []
    pagination_class = None
    edits = frozenset({"choose"})

    def get_queryset(self) -> QuerySet[Person]:
        """Return the person who asks."""
        return oneself(self.by, self.at)

    @takes(None, TellingOut, 200)
    def retrieve(self, _request: Request) -> Response:
        """Return how the person is told."""
        return self.read(self.get_queryset().get())

    @takes(TellingIn, TellingOut, 200)
    def choose(self, _request: Request) -> Response:
        """Choose for some kinds of things; it counts for what is told from then on."""
        with self.unchanged() as person:
            said = self.given(TellingIn)["choices"]
            ways = {one["kind"]: Ways(one["on_page"], one["by_mail"]) for one in said}
            choose_telling(by=self.by, ways=ways)
            return self.answer(person)
