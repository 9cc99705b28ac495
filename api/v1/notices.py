"""Notices: what the service told the person who asks."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.filters import Filters, TruthFilter, filters, since, until
from api.schema import takes
from api.views import Listed
from fleet.notices.actions import mark_read
from fleet.notices.models import Notice
from fleet.notices.queries import notices_for


class NoticeOut(serializers.ModelSerializer[Notice]):
    """One sentence about one fact, told once."""

    class Meta:
        model = Notice
        fields = ["id", "topic", "about", "sentence", "address", "told_at", "read_at"]


class NoticeFilters(Filters):
    """Filters of notices."""

    topic = filters.CharFilter()
    is_read = TruthFilter(field_name="read_at", lookup_expr="isnull", exclude=True)
    since = since("told_at")
    until = until("told_at")


class NoticeView(Listed[Notice]):
    """Notices, the newest first."""

    queryset = Notice.objects.none()
    serializer_class = NoticeOut
    filterset_class: Any = NoticeFilters

    def get_queryset(self) -> QuerySet[Notice]:
        """Return what was told to the person who asks."""
        return notices_for(self.by)

    @takes(None, NoticeOut, 200)
    @action(detail=True, methods=["post"])
    def seen(self, _request: Request, **_address: str) -> Response:
        """Mark a notice as read; it keeps the moment it was first."""
        notice = self.get_object()
        mark_read(by=self.by, at=self.at, notice=notice)
        return self.answer(notice)
