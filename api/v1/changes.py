"""The history of what one owns: changes, and facts recorded and voided, newest first."""

import uuid
from datetime import datetime
from typing import Any, Final

from django.apps import apps
from drf_spectacular.helpers import forced_singular_serializer
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from api.pagination import MOST_ROWS, PAGE_ROWS, bad_cursor, cursor_at, opened, page_rows
from api.serializers import Choice, In, Key, Moment, Text
from api.views import Resource
from fleet.accounts.models import Change, What
from fleet.accounts.trail import noun_of
from fleet.history.lines import RECORDED, VOIDED
from fleet.history.queries import Mark, Wanted, history_for
from fleet.records import Fact, Noun

COMPUTED: Final = {"assessment", "guidance", "guidance_line", "learned_model"}
OWN_BOOKS: Final = {"change", "notice", "reply"}
NOUNS: Final = sorted(
    {noun_of(model) for model in apps.get_models() if issubclass(model, Noun | Fact)} - COMPUTED - OWN_BOOKS
)
WHATS: Final = (RECORDED, VOIDED, *What.values)


class ChangeOut(serializers.Serializer[Any]):
    """One thing that was done to what one owns."""

    at = serializers.DateTimeField()
    what = serializers.ChoiceField(choices=WHATS, help_text="What was done; facts are recorded and voided.")
    noun = serializers.CharField(help_text="What kind of row it was done to.")
    row = serializers.UUIDField(help_text="Id of the row; it may be gone.")
    by = serializers.CharField(help_text="Who did it, as far as the reader may know.")
    is_own = serializers.BooleanField(help_text="Whether the reader did it.")
    on_behalf_of = serializers.UUIDField(
        source="on_behalf_of.pk",
        allow_null=True,
        help_text="Id of the organisation for which it was done; null where somebody acted for themselves.",
    )
    on_behalf_of_name = serializers.CharField(source="on_behalf_of.name", allow_null=True)
    api_key = serializers.CharField(
        allow_null=True, help_text="Name of the key it was done with, to those who look after that key."
    )
    before = serializers.DictField(help_text="What changed, as it was before.")
    after = serializers.DictField(help_text="What changed, as it was afterwards.")


class HistoryOut(serializers.Serializer[Any]):
    """A page of the history."""

    next = serializers.URLField(allow_null=True, help_text="Address of the next page; null on the last one.")
    results = ChangeOut(many=True)


ONE_PAGE: Final = forced_singular_serializer(HistoryOut)  # type: ignore[no-untyped-call]  # the library has no types


class HistoryIn(In):
    """What of the history is wanted."""

    noun = Choice(NOUNS, required=False, help_text="Only changes of this kind of row.")
    what = Choice(WHATS, required=False, help_text="Only what was done in this way.")
    about = Key(help_text="Only this row, and facts about it: a tire's fittings, a bike's stints.")
    since = Moment(required=False, help_text="At or after this time.")
    until = Moment(required=False, help_text="Before this time.")
    cursor = Text(required=False, help_text="Where the page begins: taken from `next`, never made by hand.")
    page_size = serializers.IntegerField(
        required=False, min_value=1, max_value=MOST_ROWS, default=PAGE_ROWS, help_text="Rows in a page."
    )


class ChangeView(Resource[Change]):
    """The history of what the asker owns."""

    queryset = Change.objects.none()
    serializer_class = HistoryOut
    filter_backends: list[Any] = []
    pagination_class = None

    @extend_schema(parameters=[HistoryIn], responses={200: ONE_PAGE})
    def list(self, request: Request) -> Response:
        """List what was done to what one owns, newest first."""
        asked = request.query_params.dict()
        rows = page_rows(asked.pop("page_size", None))
        given = self.parsed(HistoryIn, asked)
        given.pop("page_size", None)
        cursor = given.pop("cursor", None)
        wanted = Wanted(after=mark_of(cursor) if cursor else None, **given)
        lines, mark = history_for(self.by, wanted=wanted, rows=rows)
        address = request.build_absolute_uri()
        following = replace_query_param(address, "cursor", cursor_at(mark)) if mark else None
        return Response({"next": following, "results": ChangeOut(lines, many=True).data})


def mark_of(cursor: str) -> Mark:
    """Return the mark a cursor stands for."""
    at, row, what = opened(cursor, len(Mark._fields))
    try:
        mark = Mark(datetime.fromisoformat(at), uuid.UUID(row), what)
    except (TypeError, ValueError, AttributeError) as error:
        raise bad_cursor() from error
    if mark.at.utcoffset() is None or what not in WHATS:
        raise bad_cursor()
    return mark
