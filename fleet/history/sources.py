"""The kinds of facts a history is read from, and whose each one is."""

from dataclasses import dataclass, field
from typing import Any, Final

from fleet.accounts.trail import noun_of, values_of
from fleet.events.models import Conditions
from fleet.garage.comparison import GaugeComparison
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import (
    Fitting,
    Hold,
    RecallContact,
    RecallNotice,
    Removal,
    SidewallReading,
    StockMovement,
)
from fleet.inventory.reservation import Reservation
from fleet.records import Fact
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
from fleet.trials.models import Run

BOOKKEEPING: Final = frozenset(field.name for field in Fact._meta.get_fields()) | {"id"}  # noqa: SLF001 -- documented
PAIR: Final = ("wheel_pair", "wheel_pair__bike")


@dataclass(frozen=True)
class Source:
    """A kind of fact: the paths to its rider and its organisation, to what it is about, and what is written later.

    ``tire_held`` is the column with the time at which the tire was its rider's: a tire may have another owner since.
    """

    model: type[Fact]
    rider: str = ""
    tire_held: str = ""
    organisation: str = ""
    about: tuple[str, ...] = ()
    later: frozenset[str] = field(default_factory=frozenset)

    @property
    def noun(self) -> str:
        """The name of these facts, as the trail writes it."""
        return noun_of(self.model)

    def content(self, row: Fact) -> dict[str, Any]:
        """Return what was written down when the fact was recorded."""
        return {
            name: value
            for name, value in values_of(row).items()
            if name not in BOOKKEEPING and name not in self.later
        }


def _of_tire(model: type[Fact], when: str = "taken_at") -> Source:
    return Source(model, rider="tire__owner", tire_held=when, about=("tire",))


SOURCES: Final = (
    Source(
        GaugeComparison,
        rider="instrument__rider",
        organisation="instrument__organisation",
        about=("instrument", "master"),
    ),
    Source(StockMovement, organisation="lot__vendor", about=("lot",)),
    Source(
        Fitting,
        rider="wheel_pair__bike__rider",
        organisation="vendor",
        about=("tire", "ticket", *PAIR),
        later=frozenset({"removed_at"}),
    ),
    Source(
        Removal,
        rider="fitting__wheel_pair__bike__rider",
        organisation="fitting__vendor",
        about=("fitting", "fitting__tire", *(f"fitting__{path}" for path in PAIR)),
    ),
    Source(
        Hold,
        rider="tire__owner",
        tire_held="placed_at",
        organisation="placed_for",
        about=("tire",),
        later=frozenset({"lifted_at", "lifted_by", "lift_reason"}),
    ),
    Source(
        Inspection,
        rider="tire__owner",
        tire_held="inspected_at",
        organisation="inspected_for",
        about=("tire", "hold"),
    ),
    Source(
        Reservation,
        rider="rider",
        organisation="vendor",
        about=("spec",),
        later=frozenset({"kept_at", "ready_at", "ended_at", "ended_as", "ended_by", "end_reason"}),
    ),
    Source(
        RecallNotice,
        organisation="entered_for",
        about=("spec", "line"),
        later=frozenset({"lifted_at", "lifted_by", "lift_reason"}),
    ),
    Source(
        SidewallReading, rider="tire__owner", tire_held="read_at", organisation="read_for", about=("tire",)
    ),
    Source(RecallContact, rider="rider", organisation="told_for", about=("notice",)),
    Source(Conditions, organisation="day__event__organiser", about=("day", "day__event")),
    Source(Stint, rider="wheel_pair__bike__rider", about=PAIR),
    Source(Adjustment, rider="wheel_pair__bike__rider", about=PAIR),
    Source(FeelNote, rider="stint__wheel_pair__bike__rider", about=("stint",)),
    Source(AdviceAnswer, rider="stint__wheel_pair__bike__rider", about=("stint",)),
    _of_tire(PressureReading),
    _of_tire(TreadReading),
    _of_tire(TemperatureReading),
    _of_tire(ShapeReading),
    _of_tire(ContourReading),
    _of_tire(SurfaceNote, "seen_at"),
    Source(CycleCorrection, rider="stint__wheel_pair__bike__rider", about=("tire", "stint")),
    Source(Run, rider="test__bike__rider", organisation="test__organisation", about=("test", "stint")),
)
BY_NOUN: Final = {source.noun: source for source in SOURCES}
