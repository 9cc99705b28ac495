"""Measuring one set: gaps, roll-out, ride heights and the outline of both treads, before and after."""

import re
import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.catalogue.models import AXLES
from fleet.errors import NotFound, Refusal
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, LocalTimeField, MeasuredField, PlainForm
from fleet.pages.trials.reaching import about, test_run_by
from fleet.quantities import Unit
from fleet.trials.actions import AxleLengths, measure
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import lengths_of, sets_of

MM: Final = Unit("mm", 1, 0.5, float, float)
WHERE: Final = {
    "front": "a part that moves with the wheel, such as the mudguard on the fork",
    "rear": "a part that moves with the wheel, such as the swingarm",
}
SEPARATOR: Final = re.compile(r"[;\t ]+")


class PointsField(forms.Field):
    """Points of a contour gauge, a line each: across and height, from left to right."""

    widget = forms.Textarea(
        attrs={"rows": 5, "inputmode": "text", "autocomplete": "off", "spellcheck": "false"}
    )

    def to_python(self, value: Any) -> list[tuple[float, float]]:
        """Return the points, or say which line is none."""
        points = []
        for number, line in enumerate(str(value or "").replace("\N{MINUS SIGN}", "-").splitlines(), start=1):
            if not line.strip():
                continue
            cells = [cell.replace(",", ".") for cell in SEPARATOR.split(line.strip())]
            try:
                across, height = (float(cell) for cell in cells)
            except ValueError:
                raise forms.ValidationError(
                    f"Line {number}, “{line.strip()[:40]}”, is no point: give two numbers in mm, across and height, "
                    "with a space between, such as -40 -9.2."
                ) from None
            points.append((across, height))
        return points


class MeasureForm(PlainForm):
    """What was measured on one set."""

    known_as = {"x_mm": "front_points", "tire": "taken_at"}

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, forms.Field] = {}
        for axle in AXLES:
            name = axle.capitalize()
            fields |= {
                f"{axle}_gap": _length(f"{name} gap", 1, 200, f"From the tread's middle to {WHERE[axle]}."),
                f"{axle}_roll_out": _length(
                    f"{name} roll-out", 1000, 2500, "Way of one full turn of the wheel, loaded and upright."
                ),
                f"{axle}_ride_height": _length(
                    f"{name} ride height", 50, 1500, "From the axle up to the same point of the frame each time."
                ),
                f"{axle}_points": PointsField(
                    label=f"{name} outline", required=False,
                    help_text="Contour gauge, a point a line: across and height in mm, left to right seen from the "
                    "saddle; at least 8.",
                ),
            }  # fmt: skip
        self.take(
            taken_at=LocalTimeField(zone=zone, label="Measured at", help_text=f"The clock of {zone}."),
            **fields,
            key=KeyField(),
        )

    def measured(self) -> dict[str, AxleLengths]:
        """Return what was measured, by axle."""
        said = self.cleaned_data
        return {
            axle: AxleLengths(
                gap_mm=said[f"{axle}_gap"],
                roll_out_mm=said[f"{axle}_roll_out"],
                ride_height_mm=said[f"{axle}_ride_height"],
                x_mm=tuple(x for x, _ in said[f"{axle}_points"]),
                z_mm=tuple(z for _, z in said[f"{axle}_points"]),
            )
            for axle in AXLES
        }


@require_http_methods(["GET", "HEAD", "POST"])
def measure_set(request: HttpRequest, pk: uuid.UUID, side: str) -> HttpResponse:
    """Show what was measured on a set, and store what is measured now."""
    by, at = person_of(request), timezone.now()
    test = test_run_by(by, pk)
    if side not in Side.values:
        raise NotFound("A test has a baseline and a candidate: choose one of them on its page.")
    form = MeasureForm(
        request.POST if request.method == "POST" else None, zone=zone_of(test), initial={"taken_at": at}
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            count = measure(
                by=by,
                at=at,
                test=test,
                side=side,
                taken_at=said["taken_at"],
                measured=form.measured(),
                key=said["key"],
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{count} reading{'s' if count > 1 else ''} of the {side} set stored.")
            return redirect("tire-test", test.pk)
    context = about(request, test)
    tire_set = sets_of(test)[side]
    context |= {
        "side": side,
        "tire_set": tire_set,
        "specs": test.specs(side),
        "lengths": lengths_of(tire_set) if context["is_open"] else None,
        "form": form,
        "axles": [
            (axle, [form[f"{axle}_{part}"] for part in ("gap", "roll_out", "ride_height", "points")])
            for axle in AXLES
        ],
    }
    return render(request, "pages/trials/measure.html", context, status=422 if form.errors else 200)


def zone_of(test: TireTest) -> str:
    """Return the time zone a test is told in: its track's."""
    return test.layout.track.time_zone if test.layout else "UTC"


def _length(label: str, low: float, high: float, hint: str) -> MeasuredField:
    return MeasuredField(unit=MM, low=low, high=high, label=label, required=False, help_text=hint)
