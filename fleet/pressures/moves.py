"""What moved since the bulletin in force, and why."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.events.parts import part_at
from fleet.pressures.lines import Asked, Computed
from fleet.pressures.models import Bulletin, GuidanceLine, GuidancePart

_SAME_TARGET_KPA = 0.5


@dataclass(frozen=True)
class Move:
    """By how much a line moved, a gauge step at least, and the reason; nothing where it did not."""

    by_kpa: float | None
    because: str


def told_for(bulletin: Bulletin, asked: Sequence[Asked]) -> list[tuple[GuidancePart, GuidanceLine | None]]:
    """Return for each line what a bulletin says of the same tires at the middle of its part, and the part of the bulletin that is."""
    parts = list(bulletin.guidance.parts.select_related("conditions"))
    issued = {
        (line.part_id, line.entry_id or line.group_id, line.spec_id, line.uses_warmers): line
        for line in bulletin.guidance.lines.select_related("override")
    }
    then = {part: part_at(parts, part.middle) for part in {line.part for line in asked}}
    return [
        (
            then[line.part],
            issued.get(
                (
                    then[line.part].pk,
                    line.entry.pk if line.entry else line.group.pk,
                    line.spec.pk,
                    line.uses_warmers,
                )
            ),
        )
        for line in asked
    ]


def moves_since(
    told: Sequence[GuidanceLine | None], asked: Sequence[Asked], now: Computed, then: Computed
) -> list[Move]:
    """Return each line's move since what a bulletin told of it.

    ``then`` is what the present readings and specs would give under the bulletin's conditions: where that explains
    less than half of the move, the weather did it.
    """
    moves = []
    for index, (line, before) in enumerate(zip(asked, told, strict=True)):
        if before is None:
            moves.append(Move(None, "not in the bulletin"))
            continue
        by_hand = getattr(before, "override", None)
        issued_kpa = by_hand.set_kpa if by_hand else before.shown_kpa
        by_kpa = float(now.pressure.shown_kpa[index]) - issued_kpa
        if abs(by_kpa) < line.step_kpa - 1e-6:
            moves.append(Move(None, ""))
            continue
        exact = float(now.pressure.start_kpa[index]) - before.start_kpa
        without_weather = float(then.pressure.start_kpa[index]) - before.start_kpa
        if by_hand:
            because = "set by hand before"
        elif abs(float(now.target.hot_kpa[index]) - before.hot_target_kpa) > _SAME_TARGET_KPA:
            because = "spec"
        elif abs(without_weather) < abs(exact) / 2:
            because = "weather"
        else:
            because = "readings"
        moves.append(Move(round(by_kpa, 3), because))
    return moves
