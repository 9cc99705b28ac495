"""What an issued bulletin says, read back from its frozen content: its parts of the day, and the lines of one of them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

from fleet.events.parts import part_at

Content: TypeAlias = Mapping[str, Any]


@dataclass(frozen=True)
class ToldPart:
    """One part of the day in a bulletin; it has no name where the bulletin tells nothing apart."""

    name: str
    starts_at: datetime
    ends_at: datetime
    conditions: dict[str, Any]


def parts_of(content: Content) -> list[ToldPart]:
    """Return the parts of a bulletin in order of their time; one issued before there were any has the whole day."""
    if "parts" not in content:
        zone = ZoneInfo(content["time_zone"])
        on = date.fromisoformat(content["date"])
        midnight, next_midnight = (datetime.combine(on + timedelta(days=n), time(), zone) for n in (0, 1))
        return [ToldPart("", midnight, next_midnight, content["conditions"])]
    return [
        ToldPart(
            one["name"],
            datetime.fromisoformat(one["starts_at"]),
            datetime.fromisoformat(one["ends_at"]),
            one["conditions"],
        )
        for one in content["parts"]
    ]


def part_told_at(content: Content, moment: datetime) -> ToldPart:
    """Return the part of a bulletin that a moment lies in, else the next one, else the last."""
    return part_at(parts_of(content), moment)


def lines_of(content: Content, part: ToldPart) -> list[dict[str, Any]]:
    """Return the lines of a part of a bulletin."""
    return [line for line in content["lines"] if line.get("part", "") == part.name]


def lines_told_at(content: Content, moment: datetime) -> list[dict[str, Any]]:
    """Return the lines of a bulletin that count at a moment."""
    return lines_of(content, part_told_at(content, moment))
