"""Lists in pages that stay right while rows are added: a page begins after the last row of the one before."""

import base64
import binascii
import json
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any, Final
from uuid import UUID

from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.db.models import Field, Model, Q
from rest_framework import exceptions
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

PAGE_ROWS: Final = 50
MOST_ROWS: Final = 200
SIZE: Final = "page_size"
PARAMETERS: Final = ("cursor", SIZE)


class ByCursor(BasePagination):
    """Pages in the order of the query, whose last key is the id; the cursor holds the last row's place in it."""

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:  # noqa: ARG002
        """Return the rows of the page asked for."""
        self.order = tuple(str(key) for key in queryset.query.order_by)
        if not self.order or self.order[-1] != "id":
            raise ImproperlyConfigured("A paged query ends its order_by with 'id', so that no two rows tie.")
        self.address = request.build_absolute_uri()
        rows = page_rows(request.query_params.get(SIZE))
        if cursor := request.query_params.get("cursor"):
            queryset = queryset.filter(_after(queryset.model, self.order, opened(cursor, len(self.order))))
        found = list(queryset[: rows + 1])
        self.page = found[:rows]
        self.has_more = len(found) > rows
        return self.page

    def get_paginated_response(self, data: Any) -> Response:
        """Return the page with the address of the next one."""
        return Response({"next": self._next(), "results": data})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Return how a page looks in the OpenAPI document."""
        return {
            "type": "object",
            "required": ["next", "results"],
            "properties": {
                "next": {
                    "type": ["string", "null"],
                    "format": "uri",
                    "description": "Address of the next page; null on the last one.",
                },
                "results": schema,
            },
        }

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:  # noqa: ARG002
        """Return the query parameters of a page in the OpenAPI document."""
        return [
            {
                "name": "cursor",
                "in": "query",
                "required": False,
                "description": "Where the page begins: taken from `next`, never made by hand.",
                "schema": {"type": "string"},
            },
            {
                "name": SIZE,
                "in": "query",
                "required": False,
                "description": "Rows in a page.",
                "schema": {"type": "integer", "minimum": 1, "maximum": MOST_ROWS, "default": PAGE_ROWS},
            },
        ]

    def _next(self) -> str | None:
        if not self.has_more:
            return None
        place = [_value(self.page[-1], key.lstrip("-")) for key in self.order]
        return replace_query_param(self.address, "cursor", cursor_at(place))


def cursor_at(place: Sequence[Any]) -> str:
    """Return the cursor for what comes after a place in an order."""
    said = json.dumps([_said(value) for value in place], separators=(",", ":"))
    return base64.urlsafe_b64encode(said.encode()).decode()


def page_rows(text: str | None) -> int:
    """Return how many rows a page was asked to have."""
    if text is None:
        return PAGE_ROWS
    if not (text.isascii() and text.isdigit() and len(text) <= len(str(MOST_ROWS))) or not (
        1 <= int(text) <= MOST_ROWS
    ):
        raise exceptions.ValidationError(
            {SIZE: [f"A page has 1 to {MOST_ROWS} rows: give a number like 50."]}
        )
    return int(text)


def opened(cursor: str, keys: int) -> list[Any]:
    """Return the place a cursor stands for, as it was said; a cursor of somebody's own making is refused."""
    try:
        place = json.loads(base64.b64decode(cursor.encode(), altchars=b"-_", validate=True))
    except (binascii.Error, ValueError, RecursionError):
        place = None
    if not isinstance(place, list) or len(place) != keys:
        raise bad_cursor()
    return place


def bad_cursor() -> exceptions.ValidationError:
    """Return the refusal of a cursor that is not one of ours."""
    return exceptions.ValidationError(
        {
            "cursor": [
                "This cursor is not one of ours: follow the address in 'next', or begin without a cursor."
            ]
        }
    )


def _after(model: type[Model], order: tuple[str, ...], place: list[Any]) -> Q:
    """Return the condition for the rows after a place: later in one key, equal in all before it."""
    found = Q()
    same = Q()
    for key, said in zip(order, place, strict=True):
        path = key.lstrip("-")
        try:
            value = _field(model, path).to_python(said)
        except (ValidationError, TypeError, ValueError, OverflowError) as error:
            raise bad_cursor() from error
        if value is None or "\x00" in str(value):
            raise bad_cursor()
        found |= same & Q(**{f"{path}__{'lt' if key.startswith('-') else 'gt'}": value})
        same &= Q(**{path: value})
    return found


def _field(model: type[Model], path: str) -> "Field[Any, Any]":
    *steps, last = path.split("__")
    for step in steps:
        related = model._meta.get_field(step).related_model  # noqa: SLF001 - Django's documented model API
        if not isinstance(related, type):
            raise ImproperlyConfigured(f"{path} does not lead from row to row.")
        model = related
    field = model._meta.get_field(last)  # noqa: SLF001 - Django's documented model API
    if not isinstance(field, Field):
        raise ImproperlyConfigured(f"{path} does not end at a column.")
    return field


def _value(row: Any, path: str) -> Any:
    for step in path.split("__"):
        row = getattr(row, step)
    return row


def _said(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return str(value) if isinstance(value, date | UUID) else value
