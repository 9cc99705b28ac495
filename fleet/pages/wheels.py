"""A rider's bikes and their wheel pairs: a new bike, another pair of wheels, which pair is in use, a tire bought elsewhere."""

import secrets
import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.catalogue.models import AXLES, TireSpec
from fleet.errors import NotFound, Refusal
from fleet.garage.actions import add_bike, add_wheel_pair, use_wheel_pair
from fleet.garage.models import Bike, Rider, WheelPair
from fleet.inventory.actions import add_own_tire, fit_tire
from fleet.inventory.models import Fitting, Tire
from fleet.inventory.queries import spare_tires
from fleet.life.queries import sets_of
from fleet.pages.asking import person_of
from fleet.pages.bike import BikeForm
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm
from fleet.pages.garage import rider_of
from fleet.pages.stint_places import Where


def _wheels_name(initial: str = "") -> forms.CharField:
    return forms.CharField(
        label="What you call these wheels",
        max_length=40,
        initial=initial,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Such as dry, wet or spare; borrowed ones too, while you ride on them.",
    )


class NewBikeForm(BikeForm):
    """A bike with the wheels on it."""

    wheels = _wheels_name("dry")


class WheelsForm(PlainForm):
    """Another pair of wheels for a bike."""

    name = _wheels_name()


class OwnTireForm(PlainForm):
    """A tire bought elsewhere, and since when it is on the wheel."""

    identification = forms.CharField(
        label="Date code, or the whole number on the sidewall",
        required=False,
        max_length=30,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
        help_text="Four figures, week and year, such as 0826. Without it the age stays unknown.",
    )
    key = KeyField()

    def __init__(self, *args: Any, rider: Rider, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        specs = TireSpec.objects.select_related("line").order_by(
            "line__maker", "line__name", "axle", "size", "id"
        )
        self.take(
            tire=_SpareField(
                label="One you have off the wheel",
                queryset=spare_tires(rider),
                required=False,
                empty_label="None of them: another one, below",
                error_messages={"invalid_choice": "That tire is not off the wheel any more: choose another."},
            ),
            spec=_SpecField(
                label="Or one bought elsewhere",
                queryset=specs,
                required=False,
                empty_label="Choose one",
                error_messages={"invalid_choice": "Choose one of the tires listed."},
            ),
            fitted_at=LocalTimeField(
                zone=zone, label="On the wheel since", help_text=f"The clock of {zone}."
            ),
        )
        self.order_fields(["tire", "spec", "identification", "fitted_at", "key"])
        if not self.fields["tire"].queryset.exists():  # type: ignore[attr-defined]  # a field of choices
            del self.fields["tire"]
            self.fields["spec"].label = "Tire"

    def clean(self) -> dict[str, Any]:
        """Return what was said; exactly one tire goes on."""
        said = super().clean() or self.cleaned_data
        named = [name for name in ("tire", "spec") if said.get(name)]
        if not named and not {"tire", "spec"} & set(self.errors):
            self.add_error("spec", "No tire is chosen: choose the one that is on the wheel.")
        elif len(named) > 1:
            self.add_error("spec", "Two tires are chosen: leave one of both lists as it was.")
        return said


class _SpareField(forms.ModelChoiceField):  # type: ignore[type-arg]  # no generic at run time
    def label_from_instance(self, obj: Tire) -> str:
        """Return a tire with its end and its label."""
        return f"{obj.spec}, {obj.spec.get_axle_display().lower()}, {obj.label_code}"


class _SpecField(forms.ModelChoiceField):  # type: ignore[type-arg]  # no generic at run time
    def label_from_instance(self, obj: TireSpec) -> str:
        """Return a spec with its end, which its name does not always tell."""
        return f"{obj}, {obj.get_axle_display().lower()}"


@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    """Add a bike with its wheels to one's own garage."""
    by = person_of(request)
    rider = rider_of(by)
    form = NewBikeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        name = given.pop("wheels")
        try:
            with transaction.atomic():
                row = add_bike(by=by, rider=rider, code=f"b-{secrets.token_hex(6)}", **given)
                add_wheel_pair(by=by, bike=row, code=f"w-{secrets.token_hex(6)}", name=name)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{row} is in your garage.")
            return redirect("wheels", row.pk)
    context = {"place": "garage", "form": form}
    return render(request, "pages/add_bike.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def wheels(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the wheel pairs of one's own bike, and add another one."""
    by = person_of(request)
    rider = rider_of(by)
    row = Bike.objects.filter(pk=pk, rider=rider).first()
    if row is None:
        raise NotFound("There is no such bike of yours: choose one in your garage.")
    form = WheelsForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            add_wheel_pair(
                by=by,
                bike=row,
                code=f"w-{secrets.token_hex(6)}",
                name=form.cleaned_data["name"],
                is_in_use=False,
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The wheels are in your garage, put aside until you use them.")
            return redirect("wheels", row.pk)
    views = [view for view in sets_of([rider], only_in_use=False) if view.wheel_pair.bike_id == row.pk]
    context = {
        "place": "garage", "bike": row, "form": form,
        "pairs": [(view.wheel_pair, [(axle, view.tires.get(axle)) for axle in AXLES]) for view in views],
    }  # fmt: skip
    return render(request, "pages/wheels.html", context, status=422 if form.errors else 200)


@require_POST
def use(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Put a wheel pair on its bike; the other one is put aside."""
    by = person_of(request)
    pair = _pair(rider_of(by), pk)
    use_wheel_pair(by=by, wheel_pair=pair)
    messages.success(
        request, f"{pair.name} is on the bike now. What to set for these wheels follows within seconds."
    )
    return redirect("wheels", pair.bike_id)


@require_http_methods(["GET", "HEAD", "POST"])
def own_tire(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Put a tire bought elsewhere on one's own wheel."""
    by = person_of(request)
    rider = rider_of(by)
    pair = _pair(rider, pk)
    at = timezone.now()
    form = OwnTireForm(
        request.POST if request.method == "POST" else None,
        rider=rider,
        zone=Where(by, pair, at).zone,
        initial={"fitted_at": at},
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            if not Fitting.objects.filter(pk=said["key"], wheel_pair=pair).exists():
                with transaction.atomic():
                    tire = said.get("tire") or add_own_tire(
                        by=by, at=at, rider=rider, spec=said["spec"], identification=said["identification"]
                    )
                    fit_tire(
                        by=by, at=at, wheel_pair=pair, axle=tire.spec.axle, fitted_at=said["fitted_at"], tire=tire,
                        key=said["key"],
                    )  # fmt: skip
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{said['spec'] or said['tire'].spec} is on these wheels.")
            return redirect("wheels", pair.bike_id)
    context = {"place": "garage", "pair": pair, "form": form}
    return render(request, "pages/own_tire.html", context, status=422 if form.errors else 200)


def _pair(rider: Rider, pk: uuid.UUID) -> WheelPair:
    pair = WheelPair.objects.filter(pk=pk, bike__rider=rider).select_related("bike__rider").first()
    if pair is None:
        raise NotFound("There are no such wheels in your garage: choose them there.")
    return pair
