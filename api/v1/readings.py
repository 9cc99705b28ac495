"""What lists of readings share: the fields of every reading, its filters, and how one is voided."""

from typing import Any, Final, TypeVar

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.batches import Batched
from api.filters import FactFilters, TruthFilter, by_id, since, until
from api.serializers import In, Key, Moment, Related, VoidIn
from fleet.running.actions import void_reading
from fleet.running.models import Reading

R = TypeVar("R", bound=Reading)

SHARED: Final = [
    "id",
    "tire",
    "taken_at",
    "instrument",
    "doubt",
    "recorded_by",
    "recorded_at",
    "voided_at",
    "void_reason",
]


class ReadingIn(In):
    """What every reading says; a trailer's crew names its vendor."""

    tire = Related(scopes.tires)
    taken_at = Moment()
    instrument = Related(scopes.instruments, required=False, allow_null=True)
    vendor = Related(scopes.own_organisations, required=False, allow_null=True)
    key = Key()


class ReadingFilters(FactFilters):
    """Filters of readings."""

    tire = by_id("tire")
    rider = by_id("tire__owner")
    spec = by_id("tire__spec")
    since = since("taken_at")
    until = until("taken_at")
    is_doubtful = TruthFilter(
        field_name="doubt", lookup_expr="exact", method="filter_doubt", label="true: only doubtful readings."
    )

    def filter_doubt(self, rows: Any, _name: str, value: bool) -> Any:  # noqa: FBT001 - the library's own call
        """Return only the doubtful readings, or only the others."""
        return rows.exclude(doubt="") if value else rows.filter(doubt="")


class Readings(Batched[R]):
    """A kind of reading."""

    filterset_class: Any = ReadingFilters

    @extend_schema(request=VoidIn)
    @action(detail=True, methods=["post"])
    def void(self, _request: Request, **_address: str) -> Response:
        """Mark a reading as wrong."""
        reading = self.get_object()
        void_reading(by=self.by, at=self.at, reading=reading, **self.given(VoidIn))
        return self.answer(reading)
