"""What is different between two issued bulletins of one day: the weather they rest on, and line by line what to set."""

from dataclasses import dataclass
from typing import Any, Final

from fleet.pressures.models import Bulletin
from fleet.pressures.told import ToldPart, lines_of, part_told_at, parts_of

WEATHER: Final = ("air_c", "track_surface_c", "barometer_kpa")
SAME_KPA: Final = 0.05


@dataclass(frozen=True)
class LineDifference:
    """One start pressure in both bulletins; nothing on the side where the line does not stand."""

    part: str
    group: str
    tire: str
    axle: str
    uses_warmers: bool
    before_kpa: float | None
    after_kpa: float | None

    @property
    def by_kpa(self) -> float | None:
        """Return how far it moved, where it stands in both."""
        if self.before_kpa is None or self.after_kpa is None:
            return None
        return self.after_kpa - self.before_kpa


@dataclass(frozen=True)
class Differences:
    """Both bulletins' weather by part of the day, and the lines that are not the same; ``same`` counts those that are."""

    weather: list[tuple[str, str, float, float]]
    lines: list[LineDifference]
    same: int


def differences_between(earlier: Bulletin, later: Bulletin) -> Differences:
    """Return what changed from one bulletin to the other, in the order the later one is read; lines that went come last.

    Each part of the later one stands beside what the earlier one said for its beginning; what was over by then is left out.
    """
    weather, found, gone, same = [], [], [], 0
    for part in parts_of(later.content):
        then = part_told_at(earlier.content, part.starts_at)
        weather += [
            (part.name, name, then.conditions[name], part.conditions[name])
            for name in WEATHER
            if then.conditions[name] != part.conditions[name]
        ]
        before, after = _by_key(earlier.content, then), _by_key(later.content, part)
        for key, now in after.items():
            was = before.get(key)
            if was and abs(was["shown_kpa"] - now["shown_kpa"]) < SAME_KPA:
                same += 1
            else:
                found.append(_difference(part.name, was, now))
        gone += [_difference(part.name, was, None) for key, was in before.items() if key not in after]
    return Differences(weather, found + gone, same)


def _difference(part: str, was: dict[str, Any] | None, now: dict[str, Any] | None) -> LineDifference:
    line = now or was or {}
    return LineDifference(
        part,
        line["group"],
        f"{line['maker']} {line['line']} {line['size']} {line['compound']}".strip(),
        line["axle"],
        line["uses_warmers"],
        was["shown_kpa"] if was else None,
        now["shown_kpa"] if now else None,
    )


def _by_key(content: dict[str, Any], part: ToldPart) -> dict[tuple[str, str, bool], dict[str, Any]]:
    return {(line["group"], line["spec"], line["uses_warmers"]): line for line in lines_of(content, part)}
