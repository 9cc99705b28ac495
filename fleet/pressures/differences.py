"""What is different between two issued bulletins of one day: the weather they rest on, and line by line what to set."""

from dataclasses import dataclass
from typing import Any, Final

from fleet.pressures.models import Bulletin

WEATHER: Final = ("air_c", "track_surface_c", "barometer_kpa")
SAME_KPA: Final = 0.05


@dataclass(frozen=True)
class LineDifference:
    """One start pressure in both bulletins; nothing on the side where the line does not stand."""

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
    """Both bulletins' weather, and the lines that are not the same; ``same`` counts those that are."""

    weather: list[tuple[str, float, float]]
    lines: list[LineDifference]
    same: int


def differences_between(earlier: Bulletin, later: Bulletin) -> Differences:
    """Return what changed from one bulletin to the other, in the order the later one is read; lines that went come last."""
    before, after = _lines(earlier.content), _lines(later.content)
    found, same = [], 0
    for key in [*after, *(key for key in before if key not in after)]:
        was, now = before.get(key), after.get(key)
        if was and now and abs(was["shown_kpa"] - now["shown_kpa"]) < SAME_KPA:
            same += 1
            continue
        line = now or was or {}
        found.append(
            LineDifference(
                line["group"],
                f"{line['maker']} {line['line']} {line['size']} {line['compound']}".strip(),
                line["axle"],
                line["uses_warmers"],
                was["shown_kpa"] if was else None,
                now["shown_kpa"] if now else None,
            )
        )
    was, now = earlier.content["conditions"], later.content["conditions"]
    return Differences(
        [(name, was[name], now[name]) for name in WEATHER if was[name] != now[name]], found, same
    )


def _lines(content: dict[str, Any]) -> dict[tuple[str, str, bool], dict[str, Any]]:
    return {(line["group"], line["spec"], line["uses_warmers"]): line for line in content["lines"]}
