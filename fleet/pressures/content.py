"""What a bulletin says, frozen: public lines only, so that it carries no personal data."""

import hashlib
import json
from datetime import datetime
from typing import Any, Final

from fleet.accounts.models import Person
from fleet.catalogue.models import TireSpec
from fleet.events.models import Conditions
from fleet.pressures.followed import as_drafted
from fleet.pressures.models import Guidance, GuidanceLine
from fleet.pressures.queries import board_lines

CAUTIONS: Final = (
    "A figure here is a starting point. The tire maker's published range and the bike's placard come first, and a "
    "qualified person decides. Check with your own gauge.",
    "New tires are slippery: scrub in, build up over the first laps.",
    "Track pressures are too low for the road: reset to the road pressure before riding home.",
)


def content_of(guidance: Guidance, *, number: int, at: datetime, issued_by: Person | None) -> dict[str, Any]:
    """Return the text and figures of a bulletin in SI units."""
    day, parts = guidance.day, list(guidance.parts.select_related("conditions"))
    track = day.layout.track
    return {
        "event": day.event.name,
        "date": day.date.isoformat(),
        "track": track.name,
        "layout": day.layout.name,
        "time_zone": track.time_zone,
        "number": number,
        "issued_at": at.isoformat(),
        "issued_for": day.event.organiser.name,
        "is_issued_by_person": issued_by is not None,
        "conditions": _weather(guidance.conditions),
        "parts": [
            {
                "name": part.name,
                "starts_at": part.starts_at.isoformat(),
                "ends_at": part.ends_at.isoformat(),
                "conditions": _weather(part.conditions),
            }
            for part in parts
        ],
        "assumptions": guidance.assumptions,
        "warmer_kpa_per_c": guidance.assumptions["warmer_kpa_per_c"],
        "lines": [_line(line) for line in as_drafted(board_lines(guidance))],
        "cautions": list(CAUTIONS),
    }


def _weather(conditions: Conditions) -> dict[str, Any]:
    return {
        "air_c": conditions.air_c,
        "track_surface_c": conditions.track_surface_c,
        "track_surface_standing": conditions.track_surface_standing,
        "barometer_kpa": conditions.barometer_kpa,
        "barometer_standing": conditions.barometer_standing,
        "holds_at": conditions.holds_at.isoformat(),
        "standing": conditions.standing,
        "source": conditions.source,
    }


def _line(line: GuidanceLine) -> dict[str, Any]:
    told = _figures(line, line.spec)
    if line.by_hand is None:
        return told
    # The reason is for the desk: a public bulletin carries no personal data, and words may.
    return told | {
        "computed_kpa": line.by_hand.computed_kpa,
        "is_beyond_range": line.by_hand.is_beyond_range,
        "moved_kpa": None,
        "moved_because": "set by hand",
    }


def _figures(line: GuidanceLine, spec: TireSpec) -> dict[str, Any]:
    return {
        "spec": spec.code,
        "maker": spec.line.maker,
        "line": spec.line.name,
        "size": spec.size,
        "compound": spec.compound,
        "axle": line.axle,
        "group": line.group.name,
        "part": line.part.name,
        "uses_warmers": line.uses_warmers,
        "shown_kpa": line.shown_kpa,
        "low_kpa": line.low_kpa,
        "high_kpa": line.high_kpa,
        "hot_target_kpa": line.hot_target_kpa,
        "expected_hot_kpa": line.expected_hot_kpa,
        "tire_c": line.tire_c,
        "limit_hit": line.limit_hit,
        "basis": line.basis,
        "readings": line.readings,
        "moved_kpa": line.moved_kpa,
        "moved_because": line.moved_because,
    }


def digest_of(content: dict[str, Any]) -> str:
    """Return a digest that any change of the content changes."""
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
