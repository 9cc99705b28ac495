"""What is personal in every row: whose it is, which words go, and which facts stay.

Every text of every model is named here or, with the reason it stays, in ``tests/privacy``: a new one fails there.
"""

from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from django.db import models

from fleet.accounts.models import RoleOffer
from fleet.catalogue.models import ReferenceNote
from fleet.events.models import CalendarLink, Conditions
from fleet.exchange.models import ERASED_CELL, Upload
from fleet.garage.comparison import GaugeComparison
from fleet.garage.models import Bike, Instrument, Invitation, Rider, WheelPair
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import (
    Fitting,
    Hold,
    JobTicket,
    RecallContact,
    RecallNotice,
    Removal,
    SidewallReading,
    StockMovement,
)
from fleet.inventory.reservation import Reservation
from fleet.notices.models import Notice, TellingChoice
from fleet.pressures.models import Bulletin, Override
from fleet.replies.models import Reply
from fleet.running.models import (
    Adjustment,
    AdviceAnswer,
    ContourReading,
    CycleCorrection,
    FeelNote,
    PressureReading,
    ShapeReading,
    Stint,
    SurfaceNote,
    TemperatureReading,
    TreadReading,
)
from fleet.trials.models import Run, Step, TireTest

Kept: TypeAlias = type[models.Model]
ERASED: Final = "erased"
MARK: Final = ERASED_CELL
ERASED_RIDER: Final = "Erased rider"
VOID: Final = {"void_reason": ERASED}


@dataclass(frozen=True)
class Own:
    """A kind of row that stays without its words: the way to its rider, and what stands in place of each word.

    A word that is empty stays empty. ``codes`` become a code nobody can read anything from. ``tire_held`` is the
    column with the time at which the tire was the rider's: it may have another owner since.
    """

    model: Kept
    rider: str
    words: dict[str, Any]
    codes: tuple[str, ...] = ()
    tire_held: str = ""


OWN: Final = (
    Own(Rider, "pk", {"name": ERASED_RIDER, "contact": ""}, ("code",)),
    Own(Bike, "rider", {"description": "Erased bike"}, ("code",)),
    Own(WheelPair, "bike__rider", {"name": ERASED}, ("code",)),
    Own(Instrument, "rider", {"name": "Erased gauge"}, ("code",)),
    Own(GaugeComparison, "instrument__rider", VOID),
    Own(JobTicket, "wheel_pair__bike__rider", {"wish": ""}),
    Own(Reservation, "rider", {"end_reason": "", **VOID}),
    Own(StockMovement, "fitting__wheel_pair__bike__rider", {"reason": "", **VOID}),
    Own(Fitting, "wheel_pair__bike__rider", VOID),
    Own(Removal, "fitting__wheel_pair__bike__rider", VOID),
    Own(Hold, "tire__owner", {"note": "", "lift_reason": ERASED, **VOID}, tire_held="placed_at"),
    Own(Inspection, "tire__owner", {"words": ERASED, **VOID}, tire_held="inspected_at"),
    Own(SidewallReading, "tire__owner", VOID, tire_held="read_at"),
    Own(RecallContact, "rider", VOID),
    Own(Stint, "wheel_pair__bike__rider", {"lap_times_s": [], **VOID}),
    Own(PressureReading, "tire__owner", VOID, tire_held="taken_at"),
    Own(TreadReading, "tire__owner", VOID, tire_held="taken_at"),
    Own(TemperatureReading, "tire__owner", VOID, tire_held="taken_at"),
    Own(ShapeReading, "tire__owner", VOID, tire_held="taken_at"),
    Own(ContourReading, "tire__owner", VOID, tire_held="taken_at"),
    Own(SurfaceNote, "tire__owner", {"words": "", **VOID}, tire_held="seen_at"),
    Own(CycleCorrection, "stint__wheel_pair__bike__rider", VOID),
)
"""Tire and safety facts: their figures stay, for the vendor's ledger, a recall, and what others learn of a tire."""

GONE: Final[dict[Kept, str]] = {
    FeelNote: "stint__wheel_pair__bike__rider",
    AdviceAnswer: "stint__wheel_pair__bike__rider",
    Adjustment: "wheel_pair__bike__rider",
    Invitation: "rider",
    CalendarLink: "rider",
}
"""What says nothing about a tire: how it felt, how the bike was set, who was invited."""

PHOTOS: Final[dict[Kept, str]] = {Inspection: "inspected_at", SurfaceNote: "seen_at"}
"""Facts of tires whose photo is deleted, row and file, while the fact stays, with the column that says when they are from.

A picture may show a face or a number plate.
"""

TOLD: Final[tuple[Kept, ...]] = (Notice, TellingChoice, Reply, Upload)
"""What was said to a person, and how they wanted it."""

CHASSIS: Final = ("wheelbase_mm", "rake_deg", "fork_offset_mm", "front_rim_in", "rear_rim_in")

SEARCHED: Final[dict[Kept, tuple[str, ...]]] = {
    GaugeComparison: ("void_reason",),
    RoleOffer: ("meant_for",),
    ReferenceNote: ("source", "track_name", "pace"),
    Notice: ("sentence",),
    StockMovement: ("reason", "void_reason"),
    JobTicket: ("wish",),
    Reservation: ("end_reason", "void_reason"),
    Fitting: ("void_reason",),
    Removal: ("void_reason",),
    Hold: ("note", "lift_reason", "void_reason"),
    Inspection: ("words", "void_reason"),
    RecallNotice: ("what_to_do", "lift_reason", "void_reason"),
    SidewallReading: ("void_reason",),
    RecallContact: ("void_reason",),
    Conditions: ("source", "void_reason"),
    Stint: ("void_reason",),
    PressureReading: ("void_reason",),
    TreadReading: ("void_reason",),
    TemperatureReading: ("void_reason",),
    ShapeReading: ("void_reason",),
    ContourReading: ("void_reason",),
    Adjustment: ("void_reason",),
    FeelNote: ("words", "void_reason"),
    AdviceAnswer: ("void_reason",),
    CycleCorrection: ("void_reason",),
    SurfaceNote: ("words", "void_reason"),
    Bulletin: ("withdrawn_because",),
    TireTest: ("question", "held_constant", "ridden_by", "verdict", "final_remark"),
    Step: ("words",),
    Run: ("words", "void_reason"),
    Override: ("reason",),
}
"""Free words about others' things, in which a name or an address may stand."""
