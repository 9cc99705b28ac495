"""Kinds of cells: how a value is written in a CSV file, and read back to the very same value."""

import re
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final

from django.db.models import TextChoices

_NUMBER: Final = re.compile(r"[+-]?\d{1,16}(\.\d{1,40})?([eE][+-]?\d{1,3})?")
_COUNT: Final = re.compile(r"[+-]?\d{1,9}")
_MONEY: Final = re.compile(r"\d{1,7}(\.\d{1,2})?")
_DATE: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_MOMENT: Final = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})?")
_CODE: Final = re.compile(r"[A-Za-z0-9_-]{1,60}")
_ROLE: Final = re.compile(r"[A-Za-z0-9_-]{1,60}:[a-z_]{1,20}")


@dataclass(frozen=True)
class Kind:
    """One kind of cell; ``parse`` gets a cell that is not empty and raises ``ValueError`` with what is wrong."""

    name: str
    right: str
    parse: Callable[[str], Any]
    write: Callable[[Any], str] = str
    is_text: bool = False


def _matched(pattern: re.Pattern[str], text: str, what: str) -> str:
    trimmed = text.strip()
    if not pattern.fullmatch(trimmed):
        raise ValueError(f"{text!r} is no {what}")
    return trimmed


def _number(text: str) -> float:
    value = float(_matched(_NUMBER, text, "number"))
    if value in {float("inf"), float("-inf")}:
        raise ValueError(f"{text!r} is no number that can be stored")
    return value


def _write_number(value: float) -> str:
    return repr(float(value)).removesuffix(".0")


def _yes_no(text: str) -> bool:
    if text.strip().lower() not in {"yes", "no"}:
        raise ValueError(f"{text!r} is neither yes nor no")
    return text.strip().lower() == "yes"


def _date(text: str) -> date:
    trimmed = _matched(_DATE, text, "date")
    try:
        return date.fromisoformat(trimmed)
    except ValueError as error:
        raise ValueError(f"{text!r} is no day of the calendar") from error


def _moment(text: str) -> datetime:
    trimmed = _matched(_MOMENT, text, "moment")
    try:
        moment = datetime.fromisoformat(trimmed)
    except ValueError as error:
        raise ValueError(f"{text!r} is no moment of the calendar and the clock") from error
    if moment.tzinfo is None:
        raise ValueError(f"{text!r} does not say its time zone")
    try:
        return moment.astimezone(UTC)
    except OverflowError as error:
        raise ValueError(f"{text!r} is no moment that can be stored") from error


def _write_moment(value: datetime) -> str:
    return value.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _key(text: str) -> uuid.UUID:
    try:
        key = uuid.UUID(text.strip())
    except ValueError as error:
        raise ValueError(f"{text!r} is no UUID") from error
    if str(key) != text.strip().lower():
        raise ValueError(f"{text!r} is a UUID written in an unusual way")
    return key


def _numbers(text: str) -> list[float]:
    return [_number(part) for part in text.split(";")]


def _roles(text: str) -> list[tuple[str, str]]:
    parts = [_matched(_ROLE, part, "role at an organisation") for part in text.split(";")]
    return sorted({(code, role) for code, _, role in (part.partition(":") for part in parts)})


TEXT: Final = Kind("text", "a text", str, is_text=True)
EMAIL: Final = Kind(
    "e-mail address", "an address such as name@example.org", lambda text: text.strip().lower()
)
CODE: Final = Kind(
    "code",
    "letters, digits, hyphens and underscores only, such as lowmoor-td-f",
    lambda text: _matched(_CODE, text, "code"),
)
NUMBER: Final = Kind(
    "number", "a number with a point and without its unit, such as 182.5", _number, _write_number
)
COUNT: Final = Kind("count", "a whole number, such as 7", lambda text: int(_matched(_COUNT, text, "count")))
MONEY: Final = Kind(
    "amount",
    "an amount with at most two decimals, such as 148.50",
    lambda text: Decimal(_matched(_MONEY, text, "amount")),
    lambda value: f"{value:.2f}",
)
YES_NO: Final = Kind("yes or no", "yes or no", _yes_no, lambda value: "yes" if value else "no")
DATE: Final = Kind("date", "a date such as 2026-06-12", _date, date.isoformat)
MOMENT: Final = Kind(
    "moment",
    "date, time and zone, such as 2026-06-12T09:30:00+01:00 or 2026-06-12T08:30:00Z",
    _moment,
    _write_moment,
)
KEY: Final = Kind("key", "a UUID such as 6a2f0c1e-6d0b-4a5e-9a51-0c9a4f2d7e11", _key)
NUMBERS: Final = Kind(
    "numbers",
    "numbers with semicolons between, such as 102.3;101.9",
    _numbers,
    lambda values: ";".join(_write_number(value) for value in values),
)
ROLES: Final = Kind(
    "roles",
    "organisation:role with semicolons between, such as tarn:fitter;tarn:stock_manager",
    _roles,
    lambda pairs: ";".join(f"{code}:{role}" for code, role in pairs),
)


def choice(choices: type[TextChoices]) -> Kind:
    """Return the kind of a cell that holds one word of a fixed list."""
    words = [str(value) for value in choices.values]

    def parse(text: str) -> str:
        if text.strip() not in words:
            raise ValueError(f"{text!r} is none of the words known here")
        return text.strip()

    return Kind("word", f"one of {', '.join(words)}", parse)
