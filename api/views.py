"""What every resource shares: who asks, at which moment, how input is read and how a row is answered."""

from datetime import datetime
from typing import Any, TypeVar, cast

from django.db.models import Model
from django.utils import timezone
from rest_framework import mixins, status, viewsets
from rest_framework.exceptions import ValidationError
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from api.permissions import SignedIn
from api.serializers import In
from fleet.accounts.models import Person

M = TypeVar("M", bound=Model)


class Resource(viewsets.GenericViewSet[M]):
    """A noun behind an address; its rows are the ones the asker may see, and its writes are actions."""

    permission_classes = [SignedIn]
    metadata_class = None
    at: datetime

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

    def given(self, serializer: type[In]) -> dict[str, Any]:
        """Return the checked input as an action's keywords."""
        if not isinstance(self.request.data, dict):
            raise ValidationError("Send one JSON object.")
        parsed = serializer(data=self.request.data, context={"by": self.by, "at": self.at})
        parsed.is_valid(raise_exception=True)
        return dict(parsed.validated_data)

    def answer(self, row: Model, *, code: int = status.HTTP_200_OK) -> Response:
        """Return a row of this resource as it now stands."""
        again = self.get_queryset().get(pk=row.pk)
        return Response(self.get_serializer(again).data, status=code)

    def created(self, row: Model) -> Response:
        """Return a row of this resource as stored; the same key sent again gets the same answer."""
        return self.answer(row, code=status.HTTP_201_CREATED)


class Listed(mixins.ListModelMixin, mixins.RetrieveModelMixin, Resource[M]):
    """A resource that can be read as a list and row by row."""
