"""Gap and roll-out before and after a change of tires, and what the change does to the bike."""

import math
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.errors import Refusal
from fleet.inventory.models import Fitting, JobTicket, Tire
from fleet.pages.asking import as_uuid, person_of
from fleet.pages.forms import KeyField, MeasuredField, PlainForm
from fleet.pages.guided import mounted_on
from fleet.pages.outbox import made_at
from fleet.pages.ticket import ticket_of
from fleet.pages.trailer import trailer_zone
from fleet.pages.units import SPACE
from fleet.quantities import MINUS, Unit
from fleet.running.actions import measure_wheels
from fleet.running.actions.at_the_trailer import Measured
from fleet.running.models import ShapeReading
from fleet.running.queries import shapes_for
from fleet.running.stance import Ends, Moved, Stance, design_radius_mm, stance_after

MM: Final = Unit("mm", 1, 1.0, float, float)
ROLL_OUT: Final = ShapeReading.Quantity.ROLL_OUT
GAP: Final = ShapeReading.Quantity.GAP
WHAT: Final = {ROLL_OUT: ("roll-out", 1000.0, 2500.0), GAP: ("gap", 1.0, 250.0)}
FAR_OFF: Final = 0.08
"""A roll-out further from the circumference of the size than this share is no whole turn, or another wheel's; common practice,
no published source: a loaded tire covers two to four percent less than its design circumference."""
PLAIN: Final = {
    "Rake": ("more rake: it turns in slower and holds its line more", "less rake: it turns in quicker and is less steady"),
    "Trail": ("more trail: heavier to turn, steadier", "less trail: lighter to turn, less steady"),
    "Wheelbase": ("longer", "shorter"),
}  # fmt: skip
FELT: Final = {"Rake": 0.1, "Trail": 1.0, "Wheelbase": 3.0}
"""Changes from which on a rider is likely to notice; common practice, no published source."""


@dataclass(frozen=True)
class End:
    """One end of the bike on a ticket: the tire that is on, and the one this ticket's work took off."""

    axle: str
    now: Fitting
    old: Fitting | None

    def tires(self) -> list[tuple[str, Tire, datetime | None]]:
        """Return the tires to measure: what to call each in the form, and when it came off."""
        before = [("before", self.old.tire, self.old.removed_at)] if self.old else []
        return [*before, ("now", self.now.tire, None)]


class MeasuresForm(PlainForm):
    """Lengths of each end, on the tire before and on the one now."""

    def __init__(self, *args: Any, ends: list[End], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ends = ends
        for end in ends:
            for when, _, _ in end.tires():
                for quantity, (word, low, high) in WHAT.items():
                    label = f"{end.axle.title()} {word}{' before' if when == 'before' else ''}"
                    self.take(**{f"{end.axle}_{when}_{quantity}": MeasuredField(
                        unit=MM, low=low, high=high, label=label, required=False
                    )})  # fmt: skip
        self.take(key=KeyField())

    def clean(self) -> dict[str, Any]:
        """Refuse a roll-out that no tire of the size can have."""
        said = super().clean() or self.cleaned_data
        for end in self.ends:
            for when, tire, _ in end.tires():
                name = f"{end.axle}_{when}_{ROLL_OUT}"
                radius, length = design_radius_mm(tire.spec), said.get(name)
                around = 2 * math.pi * radius if radius else None
                if around and length and abs(length - around) > FAR_OFF * around:
                    self.add_error(
                        name,
                        f"{length:.0f} mm is no turn of {tire.spec.size}, which is {around:.0f} mm around: measure one whole "
                        "turn of this wheel, the bike upright with its rider on.",
                    )
        return said

    def measured(self, at: datetime) -> list[Measured]:
        """Return what was typed, for the tire it was read on."""
        return [
            Measured(tire, quantity, self.cleaned_data[name], off or at)
            for end in self.ends
            for when, tire, off in end.tires()
            for quantity in WHAT
            if self.cleaned_data.get(name := f"{end.axle}_{when}_{quantity}") is not None
        ]

    def rows(self) -> list[dict[str, Any]]:
        """Return the fields of each tire, to lay out."""
        return [
            {
                "axle": end.axle,
                "when": when,
                "tire": tire,
                "fields": [self[f"{end.axle}_{when}_{quantity}"] for quantity in WHAT],
            }
            for end in self.ends
            for when, tire, _ in end.tires()
        ]


@require_http_methods(["GET", "POST"])
def measures(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show what was measured on a ticket's wheels and what it means, and store more of it."""
    by = person_of(request)
    row = ticket_of(by, pk)
    at = timezone.now()
    ends = _ends(row)
    if _is_stored(by, ends, request.POST.get("key", "")):
        messages.info(request, "This was stored before; it is stored once.")
        return redirect("measures", pk)
    form = MeasuresForm(request.POST if request.method == "POST" else None, ends=ends)
    if request.method == "POST" and form.is_valid():
        try:
            stored = measure_wheels(
                by=by,
                at=at,
                measured=form.measured(made_at(request)),
                vendor=row.vendor,
                key=form.cleaned_data["key"],
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{len(stored)} measurement{'s' if len(stored) > 1 else ''} stored.")
            return redirect("measures", pk)
    found = stance_after(row.wheel_pair.bike, _measured(by, ends))
    context = {
        "place": "trailer", "ticket": row, "form": form, "ends": ends, "found": found, "zone": trailer_zone(by, at),
        "has_change": any(end.old for end in ends), "lines": [_line(one) for one in found.moved],
        "radii": _radii(found), "gearing": _percent(found.gearing_percent), "ratio": _percent(found.ratio_percent), "taken": _taken(by, ends),
    }  # fmt: skip
    return render(request, "pages/measures.html", context, status=422 if form.errors else 200)


def _ends(row: JobTicket) -> list[End]:
    """Return the ends that carry a tire, each with the one that this ticket's work took off there."""
    mounted = mounted_on(row.wheel_pair)
    return [
        End(axle, mounted[axle].fitting, _before(mounted[axle].fitting, row))
        for axle in AXLES
        if axle in mounted
    ]


def _before(now: Fitting, row: JobTicket) -> Fitting | None:
    if now.ticket_id != row.pk:
        return None
    earlier = Fitting.objects.filter(
        wheel_pair=now.wheel_pair_id, axle=now.axle, voided_at__isnull=True, removed_at__lte=now.fitted_at
    )
    return earlier.select_related("tire__spec__line").order_by("-removed_at", "id").first()


def _is_stored(by: Person, ends: list[End], key: str) -> bool:
    pk = as_uuid(key)
    if pk is None:
        return False
    tires = [tire.pk for end in ends for _, tire, _ in end.tires()]
    keys = [uuid.uuid5(pk, f"{tire} {quantity}") for tire in tires for quantity in WHAT]
    return ShapeReading.objects.filter(pk__in=keys, recorded_by=by).exists()


def _taken(by: Person, ends: list[End]) -> list[ShapeReading]:
    """Return what was measured on these tires, as far as the asker may see it, the newest first."""
    tires = [tire.pk for end in ends for _, tire, _ in end.tires()]
    return list(shapes_for(by).filter(tire__in=tires, quantity__in=WHAT, voided_at__isnull=True))


def _measured(by: Person, ends: list[End]) -> dict[str, Ends]:
    newest: dict[tuple[uuid.UUID, str], float] = {}
    for one in reversed(_taken(by, ends)):
        newest[one.tire_id, one.quantity] = one.length_mm

    def both(end: End, quantity: str) -> tuple[float | None, float | None]:
        old = newest.get((end.old.tire_id, quantity)) if end.old else None
        return old, newest.get((end.now.tire_id, quantity))

    return {
        end.axle: Ends(
            end.old.tire.spec if end.old else None, end.now.tire.spec, both(end, ROLL_OUT), both(end, GAP)
        )
        for end in ends
    }


def _radii(found: Stance) -> list[dict[str, Any]]:
    return [
        {
            "axle": axle,
            "change": signed(one.change_mm, 1),
            "sd": f"{one.sd_mm:.1f}",
            "rests_on": one.rests_on,
            "is_contradicted": one.is_contradicted,
        }
        for axle, one in found.changes.items()
    ]


def _percent(value: float | None) -> str:
    return "" if value is None else signed(value, 1)


def _line(one: Moved) -> Mapping[str, str]:
    change = one.after - one.before
    more, less = PLAIN[one.name]
    is_felt = abs(change) >= FELT[one.name]
    return {
        "name": one.name,
        "unit": one.unit if one.unit == "°" else f"{SPACE}{one.unit}",
        "before": f"{one.before:.{one.decimals}f}",
        "after": f"{one.after:.{one.decimals}f}",
        "change": signed(change, one.decimals),
        "sd": f"{one.sd:.{one.decimals}f}",
        "plain": (more if change > 0 else less) if is_felt else "hardly to be felt",
    }


def signed(value: float, decimals: int) -> str:
    """Return a change with its sign; none where it rounds to nothing."""
    figure = f"{abs(value):.{decimals}f}"
    if float(figure) == 0:
        return figure
    return f"{'+' if value > 0 else MINUS}{figure}"
