"""A rider's bike: its description and chassis data, corrected by its owner."""

import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.errors import NotFound, Refusal
from fleet.garage.actions import correct_bike
from fleet.garage.models import Bike
from fleet.pages.asking import person_of
from fleet.pages.forms import MeasuredField, PlainForm
from fleet.pages.garage import rider_of
from fleet.quantities import Unit

MM: Final = Unit("mm", 1, 1.0, float, float)
DEGREES: Final = Unit("°", 2, 0.1, float, float)
INCHES: Final = Unit("in", 2, 0.25, float, float)


def measured(label: str, unit: Unit, low: float, high: float, hint: str = "") -> MeasuredField:
    """Return the field of a length or an angle that may stay unknown."""
    return MeasuredField(label=label, unit=unit, low=low, high=high, required=False, help_text=hint)


class BikeForm(PlainForm):
    """What can be corrected of a bike."""

    description = forms.CharField(
        label="What it is", max_length=60, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    wheelbase_mm = measured("Wheelbase", MM, 900, 2000)
    rake_deg = measured("Rake", DEGREES, 10, 45, "From the vertical, as the maker gives it.")
    fork_offset_mm = measured("Fork offset", MM, 0, 100)
    front_rim_in = measured("Front rim width", INCHES, 1, 8)
    rear_rim_in = measured("Rear rim width", INCHES, 1, 8)

    def given(self) -> dict[str, Any]:
        """Return the values that were typed anew; one shown rounded and left alone is not among them."""
        return {
            name: self.cleaned_data[name]
            for name, field in self.fields.items()
            if str(self[name].data or "").strip() != str(field.prepare_value(self.initial.get(name)) or "")
        }


@require_http_methods(["GET", "HEAD", "POST"])
def bike(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show a bike of the rider's own and mend what is wrong about it."""
    by = person_of(request)
    row = Bike.objects.filter(pk=pk, rider=rider_of(by)).first()
    if row is None:
        raise NotFound("There is no such bike of yours: choose one in your garage.")
    initial = {name: getattr(row, name) for name in BikeForm.base_fields}
    form = BikeForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        given = form.given()
        try:
            if given:
                correct_bike(by=by, bike=row, **given)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The bike is corrected." if given else "Nothing was changed.")
            return redirect("bike", row.pk)
    context = {"place": "garage", "bike": row, "form": form}
    return render(request, "pages/bike.html", context, status=422 if form.errors else 200)
