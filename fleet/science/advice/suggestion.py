"""Turn all that speaks into one suggestion for the next change, or into none with the reason why."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from fleet.science.advice.rules import CAUTIONS, End, Kind
from fleet.science.advice.signs import ENDS, Basis, Note, Sign, Tire, signs
from fleet.science.practice import PRESSURE_GAUGE_SD_KPA

Confidence = Literal["firm", "fair", "weak"]

MOST_STEPS: Final = 2
"""Gauge steps of one change at most (common practice, no published source)."""

CLEAR_KPA: Final = 2.0 * np.sqrt(2.0) * PRESSURE_GAUGE_SD_KPA
"""Twice the standard deviation of the difference of two readings: a start pressure this far off is not the gauge."""

_ON_STEP: Final = 1e-9
_RESTS_ON: Final[Mapping[Basis, str]] = {
    "physics": "one start pressure, one hot reading and the gas law",
    "practice": "one note; common practice",
    "state": "what is known of the tire",
}


@dataclass(frozen=True)
class Suggestion:
    """One next change.

    Attributes
    ----------
    kind : what to do; only ``pressure`` carries a change
    axle : which end, "" for the whole bike
    steps, change_kpa : gauge steps and kPa, above 0 for more air
    start_kpa : start pressure to set as the rider's gauge reads it, at the temperature of the last setting; NaN if none
    reason, rests_on : why, and on what that rests
    confidence : firm, fair or weak
    basis : physics, practice, or the state the tire is in
    followed : the code of the sign followed, "" where none was
    signs : everything that spoke, by precedence
    remarks : what stood against it, what was passed over and where the range ended
    cautions : what always goes with it
    """

    kind: Kind
    axle: End
    reason: str
    confidence: Confidence
    rests_on: str
    basis: Basis
    followed: str = ""
    steps: int = 0
    change_kpa: float = 0.0
    start_kpa: float = np.nan
    signs: tuple[Sign, ...] = ()
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS


def suggest(front: Tire, rear: Tire, feels: Collection[Note] = ()) -> Suggestion:
    """Return the one change to try next, or why there is none.

    A tire that must not go out ends it. So do readings that no sealed tire gives: a leak is never answered with more
    air. Then physics: a hot reading off its target asks for the start pressure that would have met it, at the end
    further off in gauge steps. Then the rules of the trade in their order. Signs that ask for more and for less air at
    the same end silence each other there. At most two gauge steps, never outside the range of the spec.

    Parameters
    ----------
    front, rear : Tire
    feels : collection of (word, phase)
        What the rider felt; phase "" where none was noted.

    Raises
    ------
    ValueError
        If a word or a phase is not one of those known.
    """
    tires: Mapping[End, Tire] = {"front": front, "rear": rear}
    heard = signs(tires, feels)
    at_odds = tuple(end for end in ENDS if _is_at_odds(heard, end))
    remarks = [f"At the {end} some signs ask for more air and some for less." for end in at_odds]
    found = None
    settled = []
    for sign in heard:
        found = _followed(tires, sign, heard, is_at_odds=sign.axle in at_odds)
        settled.append(sign)
        if found is not None:
            break
        if sign.axle not in at_odds:
            remarks.append(f"{sign.reason} But the {sign.axle} start pressure is at the end of its range.")
    if found is None:
        found = _nothing_to_do(tires, feels, is_at_limit=bool(heard))
    remarks += [_also(sign) for sign in heard if sign not in settled and _is_told(sign)]
    return replace(found, signs=heard, remarks=tuple(remarks))


def room(tire: Tire, steps: int) -> int:
    """Return as many of the steps as one change and the range of the tire allow, the start pressure lying within."""
    up = int(np.floor((tire.upper_kpa - tire.start_kpa) / tire.step_kpa + _ON_STEP))
    down = int(np.floor((tire.start_kpa - tire.lower_kpa) / tire.step_kpa + _ON_STEP))
    return int(np.clip(steps, -min(down, MOST_STEPS), min(up, MOST_STEPS)))


def _is_at_odds(heard: Collection[Sign], end: End) -> bool:
    return len({sign.steps > 0 for sign in heard if sign.kind == "pressure" and sign.axle == end}) > 1


def _followed(
    tires: Mapping[End, Tire], sign: Sign, heard: Collection[Sign], *, is_at_odds: bool
) -> Suggestion | None:
    """Return the suggestion that follows from one sign, or None where the next has its turn."""
    if sign.kind != "pressure":
        return _plain(sign)
    if not is_at_odds:
        return _pressure(tires[sign.axle], sign, heard)
    # The notes at odds speak later than the gas law and are settled there, after heat and damping.
    return None if sign.basis == "physics" else _settled(tires[sign.axle], sign.axle, heard)


def _plain(sign: Sign) -> Suggestion:
    """Return a suggestion without a change of pressure."""
    return Suggestion(
        kind=sign.kind,
        axle=sign.axle,
        reason=sign.reason,
        confidence="firm" if sign.kind in ("stand down", "range") else "weak",
        rests_on=_RESTS_ON[sign.basis],
        basis=sign.basis,
        followed=sign.code,
    )


def _pressure(tire: Tire, sign: Sign, heard: Collection[Sign]) -> Suggestion | None:
    """Return the change of pressure a sign asks for as far as it may go, or None where there is no room at all."""
    if np.isnan(tire.start_kpa):
        return _measure(
            sign.axle, f"{sign.reason} But from what? Note the {sign.axle} start pressure first.", sign
        )
    steps = room(tire, sign.steps)
    if steps == 0:
        return None
    agreeing = sum(other.axle == sign.axle and other.steps * steps > 0 for other in heard) - 1
    if sign.basis == "physics":
        is_clear = agreeing > 0 or abs(tire.needed_kpa - tire.start_kpa) >= CLEAR_KPA
        confidence: Confidence = "firm" if is_clear else "fair"
        rests_on = f"{_RESTS_ON['physics']}: as good as the gauge and the target"
    else:
        confidence = "fair" if agreeing > 0 else "weak"
        rests_on = f"{agreeing + 1} of the rider's or fitter's notes; common practice"
    short = "" if steps == sign.steps else " This change goes only as far as two steps or the range allow."
    change = steps * tire.step_kpa
    return Suggestion(
        kind="pressure",
        axle=sign.axle,
        reason=sign.reason + short,
        confidence=confidence,
        rests_on=rests_on,
        basis=sign.basis,
        followed=sign.code,
        steps=steps,
        change_kpa=change,
        start_kpa=tire.start_kpa + change + tire.gauge_offset_kpa,
    )


def _settled(tire: Tire, end: End, heard: Collection[Sign]) -> Suggestion:
    """Return what to do where signs at one end contradict each other: one reading if it can help, else nothing."""
    against_physics = any(sign.axle == end and sign.basis == "physics" for sign in heard)
    if against_physics:
        return _measure(
            end, f"The {end} hot reading says one thing and the notes another: read it once more."
        )
    if _is_unread(tire):
        return _measure(
            end, f"The notes about the {end} contradict each other: read its start and hot pressure."
        )
    return _leave("The notes contradict each other and the hot pressure does not take a side.", "weak")


def _nothing_to_do(tires: Mapping[End, Tire], feels: Collection[Note], *, is_at_limit: bool) -> Suggestion:
    if is_at_limit:
        return _leave(
            "What speaks asks for a pressure beyond the range of the tire: the cure is elsewhere.", "fair"
        )
    unread = [end for end in ENDS if _is_unread(tires[end])]
    if unread and {word for word, _ in feels} != {"good"}:
        return _measure(
            unread[0], f"Nothing speaks for a change yet: read start and hot pressure, {unread[0]} first."
        )
    return _leave("Nothing speaks for a change.", "weak" if unread else "fair")


def _is_unread(tire: Tire) -> bool:
    return bool(np.isnan(tire.start_kpa) or np.isnan(tire.hot_kpa))


def _measure(end: End, reason: str, sign: Sign | None = None) -> Suggestion:
    return Suggestion(
        "measure", end, reason, "weak", "what is missing", "practice", sign.code if sign else ""
    )


def _leave(reason: str, confidence: Confidence) -> Suggestion:
    return Suggestion("leave it", "", reason, confidence, "all readings and notes there are", "practice")


def _is_told(sign: Sign) -> bool:
    """Return whether a sign that had no turn is told: all but what the notes say about pressure."""
    return sign.kind != "pressure" or sign.basis == "physics"


def _also(sign: Sign) -> str:
    """Return the remark that tells a sign which had no turn; what rests on no note names its end itself."""
    where = f" at the {sign.axle}" if sign.axle and sign.basis == "practice" else ""
    return f"Also{where}: {sign.reason}"
