"""What every resource shares: who asks, at which moment, how input is read and how a row is answered."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from types import MappingProxyType
from typing import Any, ClassVar, TypeVar, cast

from django.db import transaction
from django.db.models import Model
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone
from rest_framework import mixins, status, viewsets
from rest_framework.exceptions import ValidationError
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from api.etags import etag_of, is_known, require_match
from api.forms import is_form, values_of
from api.idempotency import METHODS, answered_once
from api.permissions import SignedIn
from api.serializers import In
from api.units import Chosen, chosen_units
from fleet.accounts.models import Person

M = TypeVar("M", bound=Model)


class Resource(viewsets.GenericViewSet[M]):
    """A noun behind an address; its rows are the ones the asker may see, and its writes are actions."""

    permission_classes = [SignedIn]
    metadata_class = None
    at: datetime
    chosen: Chosen = MappingProxyType({})
    secrets: ClassVar[frozenset[str]] = frozenset()
    """What an answer shows once: it is not kept for a repeated request."""
    edits: ClassVar[frozenset[str]] = frozenset()
    """The operations that change what another may have changed meanwhile, and so rest on a state that was read."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer a request; a write is carried out once for one key."""
        name = (request.method or "").lower()
        if request.method in METHODS and hasattr(self, name):
            setattr(self, name, partial(answered_once, self, getattr(self, name)))
        return super().dispatch(request, *args, **kwargs)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Take the one moment that everything in this request happens at."""
        self.at = timezone.now()
        super().initial(request, *args, **kwargs)

    @property
    def by(self) -> Person:
        """The person who asks."""
        return cast("Person", self.request.user)

    def get_object(self) -> M:
        """Return the row of the address, if the asker may see it."""
        return get_object_or_404(self.get_queryset(), pk=self.kwargs["pk"])

    @contextmanager
    def unchanged(self) -> Iterator[M]:
        """Hold the row of the address for a change, if it still is as the asker read it."""
        with transaction.atomic():
            rows = self.get_queryset().select_for_update(of=("self",))
            row = get_object_or_404(rows, pk=self.kwargs.get("pk", self.by.pk))
            require_match(self.request, etag_of(self.get_serializer(row).data))
            yield row

    def given(self, serializer: type[In], *, form: type[In] | None = None) -> dict[str, Any]:
        """Return the checked input as an action's keywords, where it may come as a form also from one."""
        if form and is_form(self.request):
            return self.parsed(form, values_of(self.request))
        return self.parsed(serializer, self.request.data)

    def parsed(self, serializer: type[In], data: Any, **context: Any) -> dict[str, Any]:
        """Return one JSON object, checked, as an action's keywords."""
        if not isinstance(data, dict):
            raise ValidationError("Send one JSON object.")
        self.chosen = chosen_units(self.request)
        parsed = serializer(data=data, context={"by": self.by, "at": self.at, "units": self.chosen} | context)
        parsed.is_valid(raise_exception=True)
        return dict(parsed.validated_data)

    def answer(self, row: Model, *, code: int = status.HTTP_200_OK) -> Response:
        """Return a row of this resource as it now stands."""
        again = self.get_queryset().get(pk=row.pk)
        return self.shown(again, code=code)

    def shown(self, row: Model, *, code: int = status.HTTP_200_OK) -> Response:
        """Return a row with the mark of its state."""
        data = self.get_serializer(row).data
        return Response(data, status=code, headers={"ETag": etag_of(data)})

    def read(self, row: Model) -> Response:
        """Return a row, or, to whoever holds this very state of it, that it did not change."""
        found = self.shown(row)
        if is_known(self.request, found["ETag"]):
            return Response(status=status.HTTP_304_NOT_MODIFIED, headers={"ETag": found["ETag"]})
        return found

    def created(self, row: Model) -> Response:
        """Return a row of this resource as stored; the same key sent again gets the same answer."""
        return self.answer(row, code=status.HTTP_201_CREATED)


class Listed(mixins.ListModelMixin, Resource[M]):
    """A resource that can be read as a list and row by row."""

    def retrieve(self, _request: Request, **_address: str) -> Response:
        """Show one row."""
        return self.read(self.get_object())
