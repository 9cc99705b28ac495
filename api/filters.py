"""Filters of lists: a filter nobody knows is refused, a time needs its zone, an id tells nothing about other rows."""

from datetime import UTC
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dateparse import parse_datetime
from django_filters import rest_framework as filters
from rest_framework import exceptions

from api.pagination import PARAMETERS, SIZE
from api.serializers import FIRST_YEAR, LAST_YEAR


class Filters(filters.FilterSet):  # type: ignore[misc]  # the library has no types
    """Filters that refuse what they do not know: a misspelled one would otherwise answer with everything."""

    def is_valid(self) -> bool:
        """Return whether all values can be read; an unknown parameter is refused at once."""
        known = [*self.base_filters, *PARAMETERS]
        if unknown := [name for name in self.data if name not in known]:
            raise exceptions.ValidationError(
                {name: [f"There is no such filter; there are {', '.join(known)}."] for name in unknown}
            )
        empty_too = {name for name, given in self.data.lists() if not given[0].strip()} - {SIZE}
        if unclear := [name for name, given in self.data.lists() if len(given) > 1 or name in empty_too]:
            raise exceptions.ValidationError(
                {name: ["Give one value, or leave the filter out."] for name in unclear}
            )
        return bool(super().is_valid())


class _TruthField(forms.CharField):
    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "")
        if text not in {"", "true", "false"}:
            raise ValidationError("Give true or false.")
        return None if text == "" else text == "true"


class TruthFilter(filters.BooleanFilter):  # type: ignore[misc]  # the library has no types
    """A yes or no; anything but true and false is refused."""

    field_class = _TruthField

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.extra.pop("widget", None)


class FactFilters(Filters):
    """What lists of facts share."""

    is_voided = TruthFilter(
        field_name="voided_at",
        lookup_expr="isnull",
        exclude=True,
        label="true: only voided facts, false: only standing ones.",
    )


class _MomentField(forms.CharField):
    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "")
        if text in self.empty_values:
            return None
        try:
            moment = parse_datetime(text)
        except ValueError:
            moment = None
        if moment is None or moment.utcoffset() is None or not FIRST_YEAR <= moment.year < LAST_YEAR:
            raise ValidationError("Give a time with zone, such as 2026-06-12T09:30:00Z.")
        return moment.astimezone(UTC)


class MomentFilter(filters.IsoDateTimeFilter):  # type: ignore[misc]  # the library has no types
    """A bound in time, with its zone."""

    field_class = _MomentField


def since(field: str) -> MomentFilter:
    """Return the filter for rows at or after a time."""
    return MomentFilter(field_name=field, lookup_expr="gte", label="At or after this time.")


def until(field: str) -> MomentFilter:
    """Return the filter for rows before a time."""
    return MomentFilter(field_name=field, lookup_expr="lt", label="Before this time.")


def by_id(path: str) -> Any:
    """Return the filter for rows that belong to another one, named by its id."""
    return filters.UUIDFilter(field_name=path)


__all__ = ["FactFilters", "Filters", "MomentFilter", "TruthFilter", "by_id", "filters", "since", "until"]
