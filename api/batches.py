"""Many facts in one request: each is stored or refused by itself, and answered in its place."""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, ClassVar, Final, TypeAlias, TypeVar

from django.db import transaction
from django.db.models import Model
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response

from api.errors import REFUSED, described
from api.schema import ProblemOut
from api.serializers import In, Key, Related, Scope
from api.views import Listed
from fleet.celery import quiet
from fleet.errors import Invalid
from fleet.records import Fact
from fleet.revisions import raised_together

F = TypeVar("F", bound=Fact)
Named: TypeAlias = dict[Scope, dict[uuid.UUID, Model]]
MOST_ITEMS: Final = 500
CREATED: Final = "created"
ALREADY_THERE: Final = "already-there"
NOT_STORED: Final = "refused"
STATUSES: Final = [(CREATED, CREATED), (ALREADY_THERE, ALREADY_THERE), (NOT_STORED, NOT_STORED)]


class TooManyItems(Invalid):
    """A batch of more items than are taken at once."""

    code = "too-many-items"


class BatchIn(In):
    """Facts to store, each with the key it is stored under."""

    item: ClassVar[type[In]]


class ItemOut(serializers.Serializer[Any]):
    """What became of one item."""

    key = serializers.CharField(allow_null=True, help_text="The item's key as it was sent.")
    status = serializers.ChoiceField(
        STATUSES,
        help_text="`already-there`: stored before under this key, with this content.",
    )
    id = serializers.UUIDField(allow_null=True, help_text="Id of the fact; null when it was refused.")
    problem = ProblemOut(allow_null=True, help_text="Why it was refused.")


class BatchOut(serializers.Serializer[Any]):
    """What became of each item, in the order they were sent."""

    results = ItemOut(many=True)


def batch_of(single: type[In]) -> type[BatchIn]:
    """Return the input of a batch, whose items are the input of a single write with its key required."""
    stem = single.__name__.removesuffix("In")
    key = Key(required=True, help_text="Chosen by the client: sent twice, the item is stored once.")
    item = type(f"{stem}ItemIn", (single,), {"__doc__": single.__doc__, "key": key})
    items = serializers.ListField(child=item(), min_length=1, max_length=MOST_ITEMS)
    return type(f"{stem}BatchIn", (BatchIn,), {"__doc__": BatchIn.__doc__, "items": items, "item": item})


class Batched(Listed[F]):
    """A resource of facts that can be written many at once."""

    def each(self, batch: type[BatchIn], write: Callable[..., Fact]) -> Response:
        """Store each item by itself; the answers stand in the order of the items."""
        items = _items(self.request.data)
        named = self._named(items, batch.item)
        with quiet(), transaction.atomic(), raised_together():
            known = self._stored_before(items)
            results = [
                self._stored(item, partial(self._written, batch.item, write, named), known) for item in items
            ]
        return Response({"results": results}, status=status.HTTP_200_OK)

    def _stored(self, item: Any, write: Callable[[Any], Fact], known: set[uuid.UUID]) -> dict[str, Any]:
        """Store one item, or say why not; what a refused one wrote is undone."""
        sent = item.get("key") if isinstance(item, dict) else None
        answer = {"key": sent if isinstance(sent, str) else None}
        try:
            with transaction.atomic():
                fact = write(item)
        except REFUSED as error:
            said = described(error, self.chosen)
            return answer | {"status": NOT_STORED, "id": None, "problem": said and said.body()}
        is_new = fact.pk not in known
        known.add(fact.pk)
        return answer | {"status": CREATED if is_new else ALREADY_THERE, "id": str(fact.pk), "problem": None}

    def _written(self, shape: type[In], write: Callable[..., Fact], named: Named, item: Any) -> Fact:
        return write(by=self.by, at=self.at, **self.parsed(shape, item, rows=named))

    def _named(self, items: list[Any], shape: type[In]) -> Named:
        """Return the rows that items name, of those the asker may see: one look-up a field, not one an item."""
        found: Named = defaultdict(dict)
        for name, field in shape().fields.items():
            if isinstance(field, Related) and (ids := set(_ids(items, name))):
                rows = field.scope(self.by, self.at).filter(pk__in=ids)
                found[field.scope].update({row.pk: row for row in rows})
        return found

    def _stored_before(self, items: list[Any]) -> set[uuid.UUID]:
        model: Any = self.get_queryset().model
        return set(model.objects.filter(pk__in=set(_ids(items, "key"))).values_list("pk", flat=True))


def _items(body: Any) -> list[Any]:
    items = body.get("items") if isinstance(body, dict) else None
    if not isinstance(items, list) or not items or set(body) != {"items"}:
        raise ValidationError({"items": [f"Send one JSON object with a list of 1 to {MOST_ITEMS} items."]})
    if len(items) > MOST_ITEMS:
        raise TooManyItems(
            f"These are {len(items)} items: send them in batches of {MOST_ITEMS} at most; nothing was stored.",
            field="items",
        )
    return items


def _ids(items: list[Any], name: str) -> Iterator[uuid.UUID]:
    for item in items:
        try:
            yield uuid.UUID(item[name])
        except (KeyError, TypeError, ValueError, AttributeError):
            continue
