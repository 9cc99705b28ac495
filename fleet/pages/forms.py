"""Forms that keep what was typed and say what is wrong and what would be right, at the field and on top."""

import uuid
from datetime import datetime
from math import isfinite, nan
from typing import Any, ClassVar, Final
from zoneinfo import ZoneInfo

from django import forms

from fleet.errors import Kind, Refusal
from fleet.quantities import PRESSURE, Unit

FIRST_YEAR: Final = 1980
LAST_YEAR: Final = 2100
NO_DATE: Final = forms.DateField.default_error_messages["invalid"]
USUAL_KPA: Final = 220.0
"""The pressure a refusal gives as an example; common practice, no published source."""


class PlainForm(forms.Form):
    """A form in the look of the pages, with a place for what the domain refuses."""

    use_required_attribute = False
    known_as: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(**self.fields)

    def take(self, **fields: forms.Field) -> None:
        """Add fields that depend on who fills the form in, each with a sentence for when it is left empty."""
        for name, field in fields.items():
            self.fields[name] = field
            if isinstance(field, forms.DateField) and field.error_messages["invalid"] == NO_DATE:
                field.error_messages["invalid"] = "This is no date: give one such as 2026-06-12."
            if field.label:
                field.error_messages["required"] = f"{field.label} is missing: {_how_to_give(field)}."

    def refuse(self, refusal: Refusal) -> None:
        """Show a refusal at its field, or on top where the form has no such field.

        ``known_as`` says which control holds a keyword of the action. A refusal about who asks is no matter of the
        form: it gets a page of its own.
        """
        if refusal.kind in {Kind.FORBIDDEN, Kind.MISSING}:
            raise refusal
        field = self.known_as.get(refusal.field, refusal.field)
        self.add_error(field if field in self.fields else None, refusal.sentence)

    def refused(self) -> list[tuple[str, str]]:
        """Return every message with the id of the control it belongs to, for the summary on top."""
        found = [("", str(message)) for message in self.non_field_errors()]
        for name in self.fields:
            bound = self[name]
            # A group of choices has no control of its own: its first choice, if it has one, is where to go on.
            choices = bound.subwidgets if bound.use_fieldset else []
            control = choices[0].id_for_label if choices else bound.id_for_label
            found += [(control, str(message)) for message in bound.errors]
        return found


def _how_to_give(field: forms.Field) -> str:
    if isinstance(field.widget, forms.widgets.ChoiceWidget):
        return "choose one"
    return "choose a file" if isinstance(field.widget, forms.FileInput) else "fill it in"


class KeyField(forms.UUIDField):
    """The key made when the form is shown, so that sending it twice stores one entry."""

    def __init__(self) -> None:
        super().__init__(
            widget=forms.HiddenInput,
            initial=uuid.uuid4,
            label="",
            error_messages={
                "required": "This form lost its key: open the page again and enter it once more.",
                "invalid": "This form's key was changed: open the page again and enter it once more.",
            },
        )


class MeasuredField(forms.CharField):
    """A number in the unit its reader uses; inside it is SI. ``such_as`` is the example a refusal gives, in SI."""

    def __init__(
        self, *, unit: Unit, low: float, high: float, label: str, such_as: float | None = None, **kwargs: Any
    ) -> None:
        named = label if label.lower() == unit.sign else f"{label}, {unit.sign}"
        super().__init__(label=named, **kwargs)
        self.unit, self.low, self.high = unit, low, high
        middle = USUAL_KPA if unit in PRESSURE.values() else (low + high) / 2
        self.such_as = middle if such_as is None else such_as
        self.step = unit.step
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off", "size": "7"})

    def prepare_value(self, value: Any) -> Any:
        """Return a stored number in the reader's unit; what was typed stays as it was typed."""
        return self.unit.figure(value) if isinstance(value, float | int) else value

    def to_python(self, value: Any) -> Any:
        """Return the SI value of what was typed, a decimal comma read like a point."""
        text = str(value or "").strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
        if not text:
            return None
        unit = self.unit
        try:
            number = float(text)
        except ValueError:
            number = nan
        if not isfinite(number):
            raise forms.ValidationError(
                f"“{value}” is no number: give {unit.sign or 'one'}, such as {unit.figure(self.such_as)}."
            )
        stored = unit.stored(number)
        if not self.low <= stored <= self.high:
            raise forms.ValidationError(
                f"{f'{text} {unit.sign}'.strip()} is not plausible: give {unit.figure(self.low)} to "
                f"{f'{unit.figure(self.high)} {unit.sign}'.strip()}.{self._read_as_other(number)}"
            )
        return round(stored, 4)

    def _read_as_other(self, number: float) -> str:
        """Return what a pressure would be that was typed in another unit, or nothing."""
        if self.unit not in PRESSURE.values():
            return ""
        for other in PRESSURE.values():
            kpa = other.stored(number)
            if other is not self.unit and self.low <= kpa <= self.high:
                return f" {number:g} {other.sign} would be {self.unit.figure(kpa)} {self.unit.sign}."
        return ""

    def validate(self, value: Any) -> None:
        """Refuse a missing number only where one is needed."""
        if self.required and value is None:
            raise forms.ValidationError(self.error_messages["required"], code="required")


class LocalTimeField(forms.CharField):
    """A date and time as the track's clock shows it."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"})

    def __init__(self, *, zone: str, label: str, **kwargs: Any) -> None:
        super().__init__(label=label, **kwargs)
        self.zone = ZoneInfo(zone)

    def prepare_value(self, value: Any) -> Any:
        """Return a moment on the track's clock; what was typed stays as it was typed."""
        return f"{value.astimezone(self.zone):%Y-%m-%dT%H:%M}" if isinstance(value, datetime) else value

    def to_python(self, value: Any) -> Any:
        """Return the moment that was typed."""
        text = str(value or "").strip()
        if not text:
            return None
        try:
            typed = datetime.fromisoformat(text)
        except ValueError:
            raise forms.ValidationError(
                f"“{text}” is no date and time: give one such as 2026-06-12 13:40."
            ) from None
        # Beyond these years a time with a zone may have no counterpart in UTC at all.
        if not FIRST_YEAR <= typed.year < LAST_YEAR:
            raise forms.ValidationError(
                f"The year lies between {FIRST_YEAR} and {LAST_YEAR}: check the date “{text}”."
            )
        return typed if typed.tzinfo else typed.replace(tzinfo=self.zone)

    def validate(self, value: Any) -> None:
        """Refuse a missing time only where one is needed."""
        if self.required and value is None:
            raise forms.ValidationError(self.error_messages["required"], code="required")


def whole_number(label: str, *, least: int) -> forms.IntegerField:
    """Return the field of a number of things, with buttons beside it."""
    number = forms.IntegerField(
        label=label,
        min_value=least,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "5"}),
        error_messages={
            "invalid": "This is no whole number: give one such as 4.",
            "min_value": f"Give {least} or more.",
        },
    )
    number.step = 1  # type: ignore[attr-defined]  # the stepper's buttons
    return number
