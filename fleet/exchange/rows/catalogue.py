"""Tire lines, specs, published pressures and reference notes."""

from datetime import datetime
from typing import Any, Final

from fleet.accounts.models import Organisation
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec, gather_note, note_reference, publish_pressure
from fleet.catalogue.models import Axle, PressureSpec, ReferenceNote, TireLine, TireSpec
from fleet.exchange.columns import NO_KEYWORD, Column, Sheet, thing
from fleet.exchange.kinds import CODE, COUNT, DATE, NUMBER, TEXT, YES_NO, choice

MAKER: Final = Column("maker", TEXT, "Maker of the line.", take="line.maker", gives=NO_KEYWORD)
LINE: Final = Column(
    "line", TEXT, "Name of the line, from lines.csv.", take="line.name", refers="line", also=("maker",)
)
AXLE: Final = Column("axle", choice(Axle), "Which end of the bike.")
BASIS: Final = Column("basis", choice(PressureSpec.Basis), "State of the tire in which the pressure holds.")
PRESSURE: Final = Column("pressure_kpa", NUMBER, "Gauge pressure in kPa.")


def _add_note(*, at: datetime, organisation: Organisation | None = None, **given: Any) -> ReferenceNote:
    if organisation is None:
        return note_reference(by=SERVICE, **given)
    return gather_note(by=SERVICE, at=at, organisation=organisation, **given)


def _spec_column(*, required: bool) -> Column:
    return Column("spec", CODE, "Code from specs.csv.", required=required, take="spec.code", refers="spec")


SHEETS: Final = (
    Sheet(
        name="lines",
        about="Makers' families of tires.",
        columns=(
            Column("maker", TEXT, "Who makes it."),
            Column("name", TEXT, "Name of the line."),
            Column("category", choice(TireLine.Category), "What it is made for."),
            Column(
                "carcass",
                choice(TireLine.Carcass),
                "How stiff the casing is.",
                required=False,
                default="medium",
            ),
        ),
        identity=("maker", "name"),
        rows=TireLine.objects.all,
        add=thing(add_line),
        shelf="line",
    ),
    Sheet(
        name="specs",
        about="What one orders: a line in one size and compound for one axle.",
        columns=(
            MAKER,
            LINE,
            Column("code", CODE, "Short name other files refer to."),
            AXLE,
            Column("size", TEXT, "Size designation such as 120/70 ZR17 M/C (58W)."),
            Column("compound", TEXT, "Compound, where the line has several.", required=False),
            Column("new_depth_mm", NUMBER, "Tread depth of a new tire in mm."),
            Column("wear_limit_mm", NUMBER, "Tread depth at which it is worn out, in mm."),
            Column("lower_kpa", NUMBER, "Lowest gauge pressure the maker allows, in kPa.", required=False),
            Column("upper_kpa", NUMBER, "Highest gauge pressure the maker allows, in kPa.", required=False),
            Column("heat_cycle_limit", COUNT, "Heat cycles the maker allows.", required=False),
            Column(
                "is_road_legal", YES_NO, "Whether it may be ridden on the road.", required=False, default=True
            ),
        ),
        identity=("code",),
        rows=lambda: TireSpec.objects.select_related("line"),
        add=thing(add_spec),
        shelf="spec",
    ),
    Sheet(
        name="pressure_specs",
        about="Published pressures, for a spec or for one axle of a whole line.",
        columns=(
            MAKER,
            LINE,
            _spec_column(required=False),
            AXLE,
            BASIS,
            Column("use", choice(PressureSpec.Use), "What it is for.", required=False, default="track"),
            PRESSURE,
            Column(
                "reference_c",
                NUMBER,
                "Temperature in degrees C a cold or off-warmers pressure refers to.",
                required=False,
            ),
            Column("published_by", TEXT, "Who published it."),
        ),
        identity=("maker", "line", "spec", "axle", "basis", "use"),
        rows=lambda: PressureSpec.objects.select_related("line", "spec"),
        add=thing(publish_pressure),
        after=("specs",),
    ),
    Sheet(
        name="reference_notes",
        about="Pressures others reported for a tire, with the conditions they were used in.",
        columns=(
            _spec_column(required=True),
            BASIS,
            PRESSURE,
            Column("air_c", NUMBER, "Air temperature then, degrees C.", required=False),
            Column("track_surface_c", NUMBER, "Track surface then, degrees C.", required=False),
            Column("track_name", TEXT, "Where it was used.", required=False),
            Column("pace", TEXT, "How fast the rider was.", required=False),
            Column("noted_on", DATE, "Day it was found."),
            Column("source", TEXT, "Where it was found."),
            Column(
                "organisation",
                CODE,
                "Whose testers gathered it, for their tests alone: a code from organisations.csv; empty: everybody's.",
                required=False,
                take="organisation.code",
                refers="organisation",
            ),
        ),
        identity=("spec", "basis", "pressure_kpa", "noted_on", "source", "organisation"),
        rows=lambda: ReferenceNote.objects.select_related("spec", "organisation"),
        add=_add_note,
    ),
)
