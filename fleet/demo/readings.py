"""What riders and crews write down of it: gauges that are off, slips of the pen, words for what was felt."""

import math
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from fleet.demo.cast import Gauge
from fleet.demo.scene import Scene, minutes
from fleet.demo.truth import Rubber
from fleet.science.practice import DEPTH_GAUGE_SD_MM
from fleet.science.tire_size import parse_size

READING_SD_KPA: Final = 0.8
TYPED_WRONG_KPA: Final = (-50.0, -40.0, 30.0, 40.0)
TOO_FAR_OFF_KPA: Final = 11.0
MOST_AT_ONCE_KPA: Final = 14.0
NOTES_TO_AN_ANSWER: Final = 9
LOW: Final = {"front": ("flattens", "heavy", "squirms"), "rear": ("moves", "squirms", "runs_wide")}
HIGH: Final = {"front": ("harsh", "slides_front", "chatters"), "rear": ("slides_rear", "harsh", "no_grip")}
PHASES: Final = ("braking", "entry", "mid", "exit", "")


@dataclass(frozen=True)
class Read:
    """One pressure as somebody read it, in kPa as the gauge showed it."""

    rubber: Rubber
    moment: str
    taken_at: datetime
    kpa: float
    tire_c: float | None = None


def shown_kpa(scene: Scene, gauge: Gauge, true_kpa: float) -> float:
    """Return what a gauge shows of a true pressure, on its own steps."""
    return nearest_step_kpa(gauge, true_kpa + gauge.offset_kpa + scene.about(0, READING_SD_KPA))


def nearest_step_kpa(gauge: Gauge, kpa: float) -> float:
    """Return the step of a gauge nearest to a pressure."""
    return round(round(kpa / gauge.step_kpa) * gauge.step_kpa, 1)


def spoiled(scene: Scene, reads: list[Read]) -> list[Read]:
    """Return readings with what people do to them: some missing, a pair swapped, one typed wrong."""
    kept = [read for read in reads if not scene.chance(0.05)]
    hot = [read for read in kept if read.moment != "set"]
    if len(hot) == 2 and scene.chance(0.012):  # noqa: PLR2004 -- a front and a rear one
        first, second = hot
        kept = [read for read in kept if read.moment == "set"]
        kept += [_with(first, second.kpa), _with(second, first.kpa)]
    elif hot and scene.chance(0.01):
        wrong = scene.pick(hot)
        kept = [
            _with(read, read.kpa + scene.pick(TYPED_WRONG_KPA)) if read is wrong else read for read in kept
        ]
    return kept


def write_pressures(
    scene: Scene, reads: Sequence[Read], gauge: Gauge, stint: uuid.UUID, recorded_at: datetime
) -> None:
    """Add the readings of a stint; now and then one is voided soon after and given again."""
    for read in reads:
        voided = scene.chance(0.002)
        cells = {
            "tire": read.rubber.label,
            "stint": stint,
            "moment": read.moment,
            "taken_at": read.taken_at,
            "tire_c": read.tire_c,
            "instrument": gauge.code,
        }
        if voided:
            scene.fact(
                "pressures",
                recorded_at=recorded_at,
                read_kpa=read.kpa + 10.0,
                voided_at=recorded_at + minutes(6),
                void_reason="typed wrong",
                **cells,
            )
        scene.fact(
            "pressures", recorded_at=recorded_at + minutes(7 if voided else 0), read_kpa=read.kpa, **cells
        )


def write_feel(
    scene: Scene, stint: uuid.UUID, off_kpa: dict[str, float], *, is_worn: bool, recorded_at: datetime
) -> None:
    """Add what the rider felt: mostly what the pressures explain, sometimes something else."""
    axle = max(off_kpa, key=lambda name: abs(off_kpa[name]))
    feel = "slides_rear" if is_worn and scene.chance(0.5) else "good"
    if abs(off_kpa[axle]) > TOO_FAR_OFF_KPA and scene.chance(0.75):
        feel = scene.pick((HIGH if off_kpa[axle] > 0 else LOW)[axle])
    elif scene.chance(0.06):
        feel = scene.pick(("nervous", "no_grip", "heavy"))
    phase = "" if feel == "good" else scene.pick(PHASES)
    scene.fact("feel_notes", recorded_at=recorded_at, stint=stint, feel=feel, phase=phase)
    if len(scene.rows["feel_notes"]) % NOTES_TO_AN_ANSWER == 0:
        _write_answer(scene, stint, axle, off_kpa[axle], recorded_at + minutes(2))


def _write_answer(scene: Scene, stint: uuid.UUID, axle: str, off_kpa: float, recorded_at: datetime) -> None:
    """Add what the rider says of the change advised after a stint; of a large one, that it was done."""
    is_far = abs(off_kpa) > TOO_FAR_OFF_KPA
    scene.fact(
        "advice_answers",
        recorded_at=recorded_at,
        stint=stint,
        advised="pressure" if is_far else "leave it",
        axle=axle if is_far else "",
        change_kpa=-round(min(max(off_kpa, -MOST_AT_ONCE_KPA), MOST_AT_ONCE_KPA), 1) if is_far else None,
        answer="done" if is_far or len(scene.rows["advice_answers"]) % 2 else "not_done",
    )


def write_treads(
    scene: Scene, rubber: Rubber, taken_at: datetime, *, zones: Sequence[str], instrument: str | None
) -> None:
    """Add tread depths across a tire, each as the gauge showed it."""
    most = rubber.spec.known.new_depth_mm + 0.2
    for place, zone in enumerate(zones):
        true_mm = rubber.new_mm - rubber.worn_mm[zone]
        slip_mm = 1.2 if scene.chance(0.006) else 0.0
        shown = true_mm + scene.about(0, DEPTH_GAUGE_SD_MM * 0.7) + slip_mm
        moment = taken_at + minutes(0.3 * place)
        scene.fact(
            "treads",
            recorded_at=taken_at + minutes(3),
            tire=rubber.label,
            zone=zone,
            taken_at=moment,
            depth_mm=round(min(max(shown, 0.1), most), 1),
            instrument=instrument,
        )


def write_temperatures(
    scene: Scene, rubber: Rubber, stint: uuid.UUID, taken_at: datetime, recorded_at: datetime
) -> None:
    """Add tread surface temperatures of three zones right after coming in."""
    for place, zone in enumerate(("L1", "C", "R1")):
        scene.fact(
            "temperatures",
            recorded_at=recorded_at,
            tire=rubber.label,
            stint=stint,
            zone=zone,
            taken_at=taken_at + minutes(0.2 * place),
            surface_c=round(rubber.gas_c + scene.about(4.0, 4.0), 1),
        )


def write_roll_out(scene: Scene, rubber: Rubber, taken_at: datetime) -> None:
    """Add how far the wheel rolls in one turn: the new circumference less what is worn off its middle."""
    new_mm = math.pi * parse_size(rubber.spec.size).diameter_mm
    scene.fact(
        "shapes",
        recorded_at=taken_at + minutes(2),
        tire=rubber.label,
        quantity="roll_out",
        taken_at=taken_at,
        length_mm=round(new_mm - 2 * math.pi * rubber.worn_mm["C"] + scene.about(0, 1.5)),
    )


def write_surface(
    scene: Scene, rubber: Rubber, seen_at: datetime, look: str, *, zone: str = "", words: str = ""
) -> None:
    """Add what a tread surface showed."""
    scene.fact(
        "surface_notes",
        recorded_at=seen_at + minutes(2),
        tire=rubber.label,
        look=look,
        seen_at=seen_at,
        zone=zone,
        words=words,
    )


def _with(read: Read, kpa: float) -> Read:
    return Read(read.rubber, read.moment, read.taken_at, kpa, read.tire_c)
