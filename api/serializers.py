"""Strict reading of input: unknown keys are refused, and no value of a wrong JSON type is bent into a right one."""

import math
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any, Final, TypeAlias

from django.db.models import Model, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from api.units import Chosen, hint_for, in_si, quantity_of, spoken
from fleet.accounts.models import Person

Scope: TypeAlias = Callable[[Person, datetime], QuerySet[Any]]
FIRST_YEAR: Final = 1980
LAST_YEAR: Final = 2100
WHOLE_LIMIT: Final = 2**31 - 1
_YEAR_SENTENCE: Final = f"The year lies between {FIRST_YEAR} and {LAST_YEAR}: check it."


class In(serializers.Serializer[Any]):
    """Input whose keys are an action's keywords; a key the action does not have is refused."""

    def to_internal_value(self, data: Any) -> Any:
        """Return the checked values in SI, all errors by field at once, under the names the input has them."""
        chosen: Chosen = self.context.get("units", {})
        measured = quantities_of(self)
        names = {name: spoken(name, chosen) if name in measured else name for name in map(str, self.fields)}
        errors: dict[str, Any] = {
            str(name): [
                hint_for(name, measured, chosen)
                or f"There is no such key here; the keys are {', '.join(names.values())}."
            ]
            for name in data
            if name not in names.values()
        }
        try:
            values = super().to_internal_value(_in_si(data, names, chosen))
        except ValidationError as error:
            found = dict(error.detail) if isinstance(error.detail, dict) else {}
            errors |= {names.get(str(name), str(name)): said for name, said in found.items()}
        if errors:
            raise ValidationError(errors)
        return values


class Text(serializers.CharField):
    """A JSON string."""

    def to_internal_value(self, data: Any) -> str:
        """Return the string; a number or a truth value is refused."""
        if not isinstance(data, str):
            raise ValidationError("Give text in quotes.")
        return super().to_internal_value(data)


class Choice(serializers.ChoiceField):
    """A JSON string out of a fixed list."""

    def to_internal_value(self, data: Any) -> str:
        """Return the choice; anything off the list is refused with the list."""
        if not isinstance(data, str) or (data not in self.choices and not (data == "" and self.allow_blank)):
            listed = ", ".join(str(choice) for choice in self.choices if choice != "")
            raise ValidationError(f"Give one of: {listed}.")
        return data


class Number(serializers.FloatField):
    """A finite JSON number."""

    def to_internal_value(self, data: Any) -> float:
        """Return the number; text and truth values are refused."""
        if isinstance(data, bool) or not isinstance(data, int | float):
            raise ValidationError("Give a number without quotes.")
        try:
            value = float(data)
        except OverflowError:
            value = math.inf
        if not math.isfinite(value):
            raise ValidationError("This number is too large.")
        return value


class Whole(serializers.IntegerField):
    """A JSON number without a fraction."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", -WHOLE_LIMIT)
        kwargs.setdefault("max_value", WHOLE_LIMIT)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> int:
        """Return the whole number; text, truth values and fractions are refused."""
        if isinstance(data, float) and data.is_integer():
            data = int(data)
        if isinstance(data, bool) or not isinstance(data, int):
            raise ValidationError("Give a whole number without quotes.")
        return data


class Truth(serializers.BooleanField):
    """A JSON truth value."""

    def to_internal_value(self, data: Any) -> bool:
        """Return true or false; text and numbers are refused."""
        if not isinstance(data, bool):
            raise ValidationError("Give true or false without quotes.")
        return data


class Amount(serializers.DecimalField):
    """Money as a decimal in a JSON string, so that no cent is lost on the way."""

    def to_internal_value(self, data: Any) -> Any:
        """Return the amount; a bare number is refused."""
        if not isinstance(data, str):
            raise ValidationError('Give the amount as text, such as "84.50".')
        return super().to_internal_value(data)


class Moment(serializers.DateTimeField):
    """A time with its zone (RFC 3339)."""

    def to_internal_value(self, value: Any) -> datetime:
        """Return the time in UTC; one without a zone is refused, for it could be any."""
        if not isinstance(value, str):
            raise ValidationError('Give a time with zone as text, such as "2026-06-12T09:30:00Z".')
        moment: datetime = super().to_internal_value(value)
        return moment

    def enforce_timezone(self, value: datetime) -> datetime:
        """Return the time in UTC, within the years the service knows."""
        if value.utcoffset() is None:
            raise ValidationError("Give the zone too, such as 2026-06-12T09:30:00Z or +01:00.")
        if not FIRST_YEAR <= value.year < LAST_YEAR:
            raise ValidationError(_YEAR_SENTENCE)
        return value.astimezone(UTC)


class Date(serializers.DateField):
    """A date (RFC 3339)."""

    def to_internal_value(self, value: Any) -> date:
        """Return the date, within the years the service knows."""
        if not isinstance(value, str):
            raise ValidationError('Give a date as text, such as "2026-06-12".')
        found: date = super().to_internal_value(value)
        if not FIRST_YEAR <= found.year < LAST_YEAR:
            raise ValidationError(_YEAR_SENTENCE)
        return found


class Key(serializers.UUIDField):
    """The client key of a fact: sent twice, it is stored once."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> uuid.UUID:
        """Return the key."""
        return _uuid(data)


@extend_schema_field(OpenApiTypes.UUID)
class Related(serializers.Field[Model, str, str, Any]):
    """The id of another row, looked up among those the asker may see: a stranger's is refused like an unknown one."""

    def __init__(self, scope: Scope, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.scope = scope

    def to_internal_value(self, data: Any) -> Model:
        """Return the row."""
        row = self._row(_uuid(data))
        if row is None:
            raise ValidationError("There is nothing with this id here for you: check it, or ask for access.")
        return row

    def _row(self, identity: uuid.UUID) -> Model | None:
        """Return the row if the asker may see it; a batch has looked up all that its items name."""
        found: dict[Scope, dict[uuid.UUID, Model]] | None = self.context.get("rows")
        if found is not None:
            return found[self.scope].get(identity)
        row: Model | None = self.scope(self.context["by"], self.context["at"]).filter(pk=identity).first()
        return row


def quantities_of(serializer: serializers.Serializer[Any]) -> list[str]:
    """Return the names of the fields for which another unit can be chosen."""
    return [name for name, one in serializer.fields.items() if isinstance(one, Number) and quantity_of(name)]


def _in_si(data: Any, names: dict[str, str], chosen: Chosen) -> dict[str, Any]:
    """Return what was sent under the fields' own names, converted where another unit was chosen."""
    return {
        name: data[sent] if sent == name else in_si(data[sent], chosen[quantity_of(name) or ""])
        for name, sent in names.items()
        if sent in data
    }


class VoidIn(In):
    """Why a fact was wrong."""

    reason = Text(max_length=300)


def _uuid(data: Any) -> uuid.UUID:
    try:
        if isinstance(data, str):
            return uuid.UUID(data)
    except ValueError:
        pass
    raise ValidationError('Give an id as text, such as "1b4e28ba-2fa1-4d3b-a3f5-ef19b5a7633b".')
