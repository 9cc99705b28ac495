"""Hold the trade's rules for the next change as data: a sign, where it must stand, and what it asks for.

All of it is common practice, no published source. The order is the order of precedence: what puts a tire out of use,
then heat and damping, then pressure, then what must be known first. The words are the stable codes of feel and surface
notes; a place is a corner phase for what was felt and a zone across the tread for what was seen.
"""

from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["stand down", "range", "pressure", "damping", "heat", "measure", "leave it"]
End = Literal["front", "rear", ""]
Hot = Literal["under", "on", "over", "unknown"]

KINDS: Final = ("stand down", "range", "pressure", "damping", "heat", "measure", "leave it")
PHASES: Final = ("braking", "entry", "mid", "exit")
ZONES: Final = ("L2", "L1", "C", "R1", "R2")
SHOULDERS: Final = ("L2", "R2", "")


@dataclass(frozen=True)
class Rule:
    """One rule of the trade.

    Attributes
    ----------
    code : stable name
    word : the note it listens to
    was_felt : whether that is a feel word of the stint, else a look of one tire
    kind : what it asks for
    reason : why, as a sentence
    axle : the end it speaks about; for a look "" is the tire's own end, for a feel word either
    steps : gauge steps of start pressure it asks for, up above 0
    places : where the note must stand; "" is a note without a place, no entry at all is anywhere
    when_hot : states of the tire's hot reading against its target it speaks in; no entry is any
    """

    code: str
    word: str
    was_felt: bool
    kind: Kind
    reason: str
    axle: End = ""
    steps: int = 0
    places: tuple[str, ...] = ()
    when_hot: tuple[Hot, ...] = ()


RULES: Final = (
    Rule(
        "cord", "cord", was_felt=False, kind="stand down",
        reason="Cord is showing: the tire is finished.",
    ),
    Rule(
        "cut", "cut", was_felt=False, kind="stand down",
        reason="The tread is cut: a professional looks at it before it goes out again.",
    ),
    Rule(
        "blister", "blister", was_felt=False, kind="stand down",
        reason="The tread is blistered: a professional looks at it before it goes out again. Blisters come from too much "
        "heat: cooler warmers, shorter or gentler stints.",
    ),
    Rule(
        "cold_tear", "cold_tear", was_felt=False, kind="heat",
        reason="The tread tore while it was cold: more heat before the first fast lap, from warmers or gentler first laps.",
    ),
    Rule(
        "hot_tear", "hot_tear", was_felt=False, kind="heat",
        reason="The tread tore while it was hot: less heat, from cooler warmers or shorter and gentler stints.",
    ),
    Rule(
        "edge_step", "edge_step", was_felt=False, kind="damping",
        reason="A step on one side of the grooves shows how the suspension works the tire: one click of damping at this "
        "end before any pressure.",
    ),
    Rule(
        "flattens", "flattens", was_felt=True, kind="pressure", axle="front", steps=1,
        reason="The front flattens on the brakes: it needs more air to hold its shape.",
    ),
    Rule(
        "moves", "moves", was_felt=True, kind="pressure", axle="rear", steps=1, places=("exit", "mid", ""),
        reason="The bike moves about under power: the pressure is too low for how soft the rear carcass is.",
    ),
    Rule(
        "squirms_front", "squirms", was_felt=True, kind="pressure", axle="front", steps=1,
        places=("braking", "entry"),
        reason="The front tread squirms: the pressure is too low for the carcass.",
    ),
    Rule(
        "squirms_rear", "squirms", was_felt=True, kind="pressure", axle="rear", steps=1, places=("exit",),
        reason="The rear tread squirms: the pressure is too low for the carcass.",
    ),
    Rule(
        "runs_wide", "runs_wide", was_felt=True, kind="pressure", axle="rear", steps=1, places=("exit", ""),
        reason="The line widens on the exit as load grows: the pressure is too low for the rear carcass.",
    ),
    Rule(
        "harsh_front", "harsh", was_felt=True, kind="pressure", axle="front", steps=-1,
        places=("braking", "entry"),
        reason="The front is harsh and skates: the pressure leaves too small a patch.",
    ),
    Rule(
        "harsh_rear", "harsh", was_felt=True, kind="pressure", axle="rear", steps=-1, places=("exit",),
        reason="The rear is harsh and skates: the pressure leaves too small a patch.",
    ),
    Rule(
        "pick_up_over", "pick_up", was_felt=False, kind="pressure", steps=-1, places=SHOULDERS,
        when_hot=("over",),
        reason="Debris on the edge does not clean up while the pressure is over its target: the patch is too small.",
    ),
    Rule(
        "pick_up_unread", "pick_up", was_felt=False, kind="measure", places=SHOULDERS, when_hot=("unknown",),
        reason="Debris on the edge can mean too much pressure: compare the hot pressure of this tire with its target first.",
    ),
    Rule(
        "squirms_unplaced", "squirms", was_felt=True, kind="measure", places=("mid", ""),
        reason="A tread that squirms needs more air, but at which end? Note whether it is on the brakes or on the exit.",
    ),
    Rule(
        "harsh_unplaced", "harsh", was_felt=True, kind="measure", places=("mid", ""),
        reason="A harsh tire can have too much air, but at which end? Note whether it is on the brakes or on the exit.",
    ),
)  # fmt: skip

FELT_WITHOUT_A_RULE: Final = (
    "good", "no_grip", "slides_front", "slides_rear", "chatters", "heavy", "nervous",
)  # fmt: skip
"""Feel words that say nothing about pressure by themselves: too many causes, or no complaint."""

SEEN_WITHOUT_A_RULE: Final = ("even", "rolled_grain")
"""Looks that say nothing about pressure: a tread doing its work."""

FELT: Final = frozenset({rule.word for rule in RULES if rule.was_felt}.union(FELT_WITHOUT_A_RULE))
SEEN: Final = frozenset({rule.word for rule in RULES if not rule.was_felt}.union(SEEN_WITHOUT_A_RULE))

CAUTIONS: Final = (
    "A starting point: the tire maker's published range and the bike's placard come first, and a qualified person "
    "decides.",
    "One change at a time; then the same laps again. Check with your own gauge.",
)
