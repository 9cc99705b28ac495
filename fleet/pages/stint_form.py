"""The form of a stint: what a rider knows when coming in, and what some measure, see, change and time besides."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Final
from zoneinfo import ZoneInfo

from django import forms

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.errors import Refusal
from fleet.garage.models import Instrument
from fleet.pages.forms import KeyField, LocalTimeField, MeasuredField, PlainForm
from fleet.pages.stint_places import Where
from fleet.pages.units import depth_unit, distance_unit, pressure_unit, temperature_unit
from fleet.quantities import Unit
from fleet.running.actions import Change, Look, Measured
from fleet.running.lap_times import LapTimes, as_lap, read_lap_times
from fleet.running.models import Adjustment, FeelNote, SurfaceNote, Zone

CHANGES: Final = range(2)
COUNT: Final = Unit("laps", 0, 1.0, float, float)
MINUTES: Final = Unit("min", 0, 1.0, float, float)
ADJUSTER: Final = Unit("", 1, 1.0, float, float)
EFFORTS: Final = (
    ("", "Not noted"), ("1", "Full pace"), ("0.9", "Nine tenths"), ("0.8", "Eight tenths"), ("0.6", "Easy laps"),
)  # fmt: skip
PARTS: Final = {
    "set": ("front_set_kpa", "rear_set_kpa", "warmers_c", "effort", "distance_km"),
    "laps": ("lap_times",),
    "tread": (
        *(f"{axle}_{what}_{zone}" for axle in AXLES for what in ("c", "depth") for zone in Zone.values),
        *(f"{axle}_{name}" for axle in AXLES for name in ("look", "look_zone")),
    ),
    "bike": ("phase", *(f"change_{one}_{name}" for one in CHANGES for name in ("part", "before", "after"))),
}  # fmt: skip
"""What can be left out, by the part of the form it stands in."""


@dataclass(frozen=True)
class Grid:
    """Fields of one tire side by side, one a zone."""

    legend: str
    cells: list[tuple[str, forms.BoundField]]

    @property
    def errors(self) -> list[str]:
        """Return what is wrong in any of them."""
        return [f"{zone}: {error}" for zone, cell in self.cells for error in cell.errors]


class StintForm(PlainForm):
    """What a rider knows when coming in."""

    known_as: ClassVar[dict[str, str]] = {"lap_times_s": "lap_times"}

    def __init__(
        self, *args: Any, person: Person, where: Where, gauge: Instrument | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.where, self.unit, self.person = where, pressure_unit(person), person
        self.laps_read = LapTimes((), "")
        unit, warm = self.unit, temperature_unit(person)
        on = f", on {gauge.name}" if gauge else ""
        self.take(
            front_in_kpa=_pressure("Front, hot", unit),
            rear_in_kpa=_pressure("Rear, hot", unit),
            minutes_since_in=MeasuredField(
                unit=MINUTES, low=0, high=240, such_as=2, label="Read how long after coming in", required=False,
                help_text=f"0 when read at once{on}.",
            ),
            laps=MeasuredField(unit=COUNT, low=1, high=400, such_as=7, label="Laps", required=False),
            feel=forms.ChoiceField(
                label="How it felt, in one word", choices=FeelNote.Feel.choices, required=False,
                widget=forms.RadioSelect,
            ),
            started_at=LocalTimeField(zone=where.zone, label="Out at", help_text=f"The track's clock, {where.zone}."),
            ended_at=LocalTimeField(zone=where.zone, label="In at"),
            place=forms.ChoiceField(label="Where", choices=where.choices),
            distance_km=MeasuredField(
                unit=distance_unit(person), low=0.1, high=2000, such_as=30, label="Distance", required=False,
                help_text="Needed on the road; on a track the laps tell it.",
            ),
            front_set_kpa=_pressure("Front, as set", unit),
            rear_set_kpa=_pressure("Rear, as set", unit),
            warmers_c=MeasuredField(unit=warm, low=30, high=120, label="Warmers", required=False),
            effort=forms.TypedChoiceField(
                label="How hard", choices=EFFORTS, required=False, coerce=float, empty_value=None
            ),
            lap_times=forms.CharField(
                label="Lap times", required=False, strip=False,
                widget=forms.Textarea(attrs={"rows": 4, "autocomplete": "off", "spellcheck": "false"}),
                help_text="Paste them from a timing sheet or a CSV file: 1:42.3 or 102.3, one a line, other columns may stay.",
            ),
            phase=_choice("Where in the corner", FeelNote.Phase.choices),
            key=KeyField(),
            confirmed=forms.CharField(required=False, widget=forms.HiddenInput),
        )  # fmt: skip
        self.take(**_of_treads(person), **_of_changes(unit))

    def expect(self, targets_kpa: Mapping[str, float]) -> None:
        """Show the hot target of each axle as the number its buttons count from."""
        for axle, target_kpa in targets_kpa.items():
            field = self.fields[f"{axle}_in_kpa"]
            field.widget.attrs["placeholder"] = self.unit.figure(target_kpa)

    def clean_lap_times(self) -> list[float]:
        """Return the lap times of what was pasted."""
        try:
            self.laps_read = read_lap_times(self.cleaned_data["lap_times"])
        except Refusal as refusal:
            raise forms.ValidationError(refusal.sentence) from None
        return list(self.laps_read.times_s)

    def clean(self) -> dict[str, Any]:
        """Return what was said, the times on the clock of the chosen track, a change whole or not at all."""
        said = super().clean() or self.cleaned_data
        if choice := said.get("place"):
            zone = ZoneInfo(self.where.zone_of(choice))
            for name in ("started_at", "ended_at"):
                if said.get(name):
                    said[name] = said[name].replace(tzinfo=zone)
        for one in CHANGES:
            part, after = said.get(f"change_{one}_part"), said.get(f"change_{one}_after")
            if part and after is None and not self.errors.get(f"change_{one}_after"):
                self.add_error(f"change_{one}_after", "To what was it changed? Give the new setting.")
            elif after is not None and not part:
                self.add_error(
                    f"change_{one}_part", "What was changed? Choose the part, or take the number out."
                )
        return said

    @property
    def understood(self) -> str:
        """Return in words what was read of the pasted lap times."""
        times = self.laps_read.times_s
        if not times:
            return ""
        return (
            f"{len(times)} lap time{'s' if len(times) > 1 else ''} read ({self.laps_read.found}): "
            + ", ".join(as_lap(one) for one in times)
        )

    def stint(self) -> dict[str, Any]:
        """Return the stint itself in the action's words; laps nobody typed are as many as the lap times pasted."""
        said = self.cleaned_data
        facts = {
            name: said[name]
            for name in (
                "started_at", "ended_at", "distance_km", "effort", "warmers_c", "front_set_kpa", "rear_set_kpa",
                "front_in_kpa", "rear_in_kpa", "feel",
            )
        }  # fmt: skip
        laps = said["laps"]
        if said["lap_times"] and (laps is None or "laps" not in self.changed_data):
            laps = len(said["lap_times"])
        return facts | {
            "laps": int(laps) if laps else None,
            "minutes_since_in": said["minutes_since_in"] or 0.0,
            "lap_times_s": said["lap_times"],
            "phase": said["phase"] if said["feel"] else "",
            **self.where.of(said["place"]),
        }

    def measured(self) -> Measured:
        """Return what was measured, seen and changed besides."""
        said = self.cleaned_data
        return Measured(
            surface_c=dict(self._by_zone("c")),
            depth_mm=dict(self._by_zone("depth")),
            looks=[
                Look(axle, said[f"{axle}_look"], said[f"{axle}_look_zone"])
                for axle in AXLES
                if said[f"{axle}_look"]
            ],
            changes=[
                Change(*(said[f"change_{one}_{name}"] for name in ("part", "before", "after", "unit")))
                for one in CHANGES
                if said[f"change_{one}_part"]
            ],
        )

    @property
    def grids(self) -> list[Grid]:
        """Return the fields by zone: temperature and depth of each tire."""
        signs = {
            "c": ("tread temperature", temperature_unit(self.person).sign),
            "depth": ("tread depth", depth_unit(self.person).sign),
        }
        return [
            Grid(
                f"{axle.title()} {signs[what][0]}, {signs[what][1]}",
                [(zone, self[f"{axle}_{what}_{zone}"]) for zone in Zone.values],
            )
            for axle in AXLES
            for what in ("c", "depth")
        ]

    @property
    def opened(self) -> dict[str, bool]:
        """Return which parts of what can be left out are to be seen: those with something typed or wrong."""
        if not self.is_bound:
            return {}
        return {
            part: any(self.errors.get(name) or str(self[name].data or "").strip() for name in names)
            for part, names in PARTS.items()
        }

    @property
    def changes(self) -> list[list[forms.BoundField]]:
        """Return the fields of the changes of the bike, two a row."""
        pairs = (("part", "unit"), ("before", "after"))
        return [[self[f"change_{one}_{name}"] for name in pair] for one in CHANGES for pair in pairs]

    def _by_zone(self, what: str) -> Iterator[tuple[tuple[str, str], float]]:
        for axle in AXLES:
            for zone in Zone.values:
                value = self.cleaned_data[f"{axle}_{what}_{zone}"]
                if value is not None:
                    yield (axle, zone), value


def _pressure(label: str, unit: Unit) -> MeasuredField:
    return MeasuredField(unit=unit, low=50, high=700, label=label, required=False)


def _choice(label: str, choices: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[("", "Not noted"), *choices], required=False)


def _of_treads(person: Person) -> dict[str, forms.Field]:
    """Return the fields of both treads: temperature and depth by zone, and what they show."""
    fields: dict[str, forms.Field] = {}
    for axle in AXLES:
        for zone in Zone:
            where = f"{axle.title()} {zone.label.lower()}"
            fields[f"{axle}_c_{zone}"] = MeasuredField(
                unit=temperature_unit(person), low=-20, high=180, label=where, required=False
            )
            fields[f"{axle}_depth_{zone}"] = MeasuredField(
                unit=depth_unit(person), low=0, high=15, such_as=4, label=where, required=False
            )
        fields[f"{axle}_look"] = _choice(f"{axle.title()} tread shows", SurfaceNote.Look.choices)
        fields[f"{axle}_look_zone"] = _choice(f"Where on the {axle}", Zone.choices)
    return fields


def _of_changes(unit: Unit) -> dict[str, forms.Field]:
    """Return the fields of what was changed on the bike before the stint."""
    units = [(sign, sign) for sign in dict.fromkeys(("clicks", "turns", "mm", unit.sign))]
    fields: dict[str, forms.Field] = {}
    for one in CHANGES:
        fields[f"change_{one}_part"] = _choice("Also changed" if one else "Changed", Adjustment.Part.choices)
        fields[f"change_{one}_before"] = _setting("From")
        fields[f"change_{one}_after"] = _setting("To")
        fields[f"change_{one}_unit"] = forms.ChoiceField(label="Counted in", choices=units, required=False)
    return fields


def _setting(label: str) -> MeasuredField:
    field = MeasuredField(unit=ADJUSTER, low=-200, high=1000, such_as=12, label=label, required=False)
    field.label = label
    return field
