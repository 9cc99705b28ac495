"""What tech inspection found on the evening of the last day: most tires pass, one rider is advised, and one entry was wrong."""

from datetime import datetime, timedelta
from typing import Final

from fleet.demo.places import TrackDay
from fleet.demo.scene import Scene, minutes
from fleet.demo.shop import Wheel
from fleet.demo.stints import Garage

LOOKED_AT: Final = range(1, 9)
ADVISED: Final = 4
WRONG: Final = 6


def add_inspections(scene: Scene, garages: list[Garage], last: TrackDay) -> None:
    """Add what was found on the tires that were looked at and not held."""
    for place, garage in enumerate(garages[index] for index in LOOKED_AT):
        moment = last.at(18) + minutes(12 + 3 * place)
        for wheel in garage.wheels("dry"):
            is_advised = LOOKED_AT[place] == ADVISED and wheel.axle == "rear"
            was_wrong = LOOKED_AT[place] == WRONG
            _inspected(
                scene,
                wheel,
                moment,
                outcome="advise" if is_advised else "pass",
                words="Nearly at the indicator on the right: measure it before the next event."
                if is_advised
                else "",
                voided_at=moment + timedelta(minutes=2) if was_wrong else None,
                void_reason="The number was misread." if was_wrong else "",
            )


def hold_at_the_gate(
    scene: Scene,
    wheel: Wheel,
    placed_at: datetime,
    note: str,
    *,
    lifted_at: datetime | None = None,
    lift_reason: str = "",
) -> None:
    """Add an inspection that ended with a hold."""
    if wheel.rubber is None:
        return
    key = scene.fact(
        "holds",
        recorded_at=placed_at + minutes(1),
        tire=wheel.rubber.label,
        placed_for="longfield",
        reason="inspection",
        note=note,
        placed_at=placed_at,
        lifted_at=lifted_at,
        lift_reason=lift_reason,
    )
    _inspected(scene, wheel, placed_at, outcome="hold", words=note, hold=key)


def _inspected(scene: Scene, wheel: Wheel, moment: datetime, **found: object) -> None:
    if wheel.rubber is not None:
        scene.fact(
            "inspections",
            recorded_at=moment + minutes(1),
            tire=wheel.rubber.label,
            inspected_for="longfield",
            inspected_at=moment,
            **found,
        )
