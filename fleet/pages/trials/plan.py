"""Planning a tire test: the bike first, then the question, the two sets and what is held constant."""

import uuid
from datetime import date
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Organisation, Person
from fleet.catalogue.models import AXLES, TireSpec
from fleet.errors import Refusal
from fleet.events.queries import tracks
from fleet.garage.models import Bike, WheelPair
from fleet.inventory.models import Fitting
from fleet.pages.asking import person_of, require_place, typed
from fleet.pages.forms import KeyField, MeasuredField, PlainForm
from fleet.pages.trials.reaching import about, test_run_by
from fleet.quantities import Unit
from fleet.trials.actions import correct_test, plan_test
from fleet.trials.models import Side, TireTest
from fleet.trials.queries import bikes_to_test, trials_for

TEETH: Final = Unit("teeth", 0, 1.0, float, float)
MM: Final = Unit("mm", 0, 1.0, float, float)
PARTS: Final = tuple(f"{side}_{part}" for side in Side.values for part in ("front", "rear", "pair"))
WORDS: Final = ("question", "held_constant", "ridden_by")


class PlanForm(PlainForm):
    """What is planned of a test."""

    question = forms.CharField(
        label="The question",
        max_length=200,
        help_text="What you want to know, in one sentence.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    planned_on = forms.DateField(
        label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, bike: Bike, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        specs = {str(one.pk): one for one in TireSpec.objects.select_related("line")}
        pairs = {str(one.pk): one for one in bike.wheel_pairs.order_by("name", "code")}
        layouts = {str(one.pk): one for track in tracks() for one in track.layouts.all()}
        self.rows: dict[str, dict[str, Any]] = {"layout": layouts}
        fields: dict[str, forms.Field] = {}
        for side in Side:
            for axle in AXLES:
                own = {pk: one for pk, one in specs.items() if one.axle == axle}
                fields[f"{side.value}_{axle}"] = _choice(f"{side.label}, {axle}", own)
                self.rows[f"{side.value}_{axle}"] = own
            fields[f"{side.value}_pair"] = _choice(f"{side.label}, on which wheels", pairs)
            self.rows[f"{side.value}_pair"] = pairs
        self.take(
            layout=forms.ChoiceField(
                label="Track", required=False, choices=[("", "Not decided"), *((pk, one) for pk, one in layouts.items())]
            ),
            **fields,
            ridden_by=forms.CharField(
                label="Riders, where it is not only the bike's own", max_length=120, required=False
            ),
            held_constant=forms.CharField(
                label="Held constant", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3}),
                help_text="Fuel, damping, lines, pace: what stays as it is, so that only the tires differ.",
            ),
            gearbox_teeth=MeasuredField(unit=TEETH, low=8, high=90, label="Sprocket on the gearbox", required=False),
            wheel_teeth=MeasuredField(unit=TEETH, low=8, high=90, label="Sprocket on the wheel", required=False),
            mass_height_mm=MeasuredField(
                unit=MM, low=300, high=1000, label="Center of mass over the ground, with rider", required=False,
                help_text="For the extra lean a broader tire needs; 600 mm is usual (common practice).",
            ),
        )  # fmt: skip
        if self.data.get("key") or not self.initial.get("question"):
            self.take(key=KeyField())

    def given(self) -> dict[str, Any]:
        """Return what was said as keywords of the action."""
        said = {name: value for name, value in self.cleaned_data.items() if name != "key"}
        for name, rows in self.rows.items():
            said[name] = rows.get(said[name])
        for name in ("gearbox_teeth", "wheel_teeth"):
            said[name] = int(said[name]) if said[name] else None
        return said


@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: HttpRequest) -> HttpResponse:
    """Choose the bike, then show the form and store the plan; a form sent twice plans one test."""
    by = person_of(request)
    require_place(by, "trials")
    chosen = _chosen(by, typed(request.GET, "bike"), typed(request.GET, "for"))
    if chosen is None:
        return render(
            request, "pages/trials/choose_bike.html", {"place": "trials", "bikes": bikes_to_test(by)}
        )
    organisation, bike = chosen
    form = PlanForm(
        request.POST if request.method == "POST" else None,
        bike=bike,
        initial=_usual(bike, timezone.now().date()),
    )
    if request.method == "POST" and form.is_valid():
        code = f"t-{form.cleaned_data['key'].hex[:20]}"
        if stored := trials_for(by).filter(code=code).first():
            return redirect("tire-test", stored.pk)
        try:
            test = plan_test(by=by, organisation=organisation, bike=bike, code=code, **form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(
                request, "The test is planned. Its steps stand in the usual order; change them as you like."
            )
            return redirect("tire-test", test.pk)
    context = {"place": "trials", "bike": bike, "organisation": organisation, "form": form}
    return render(request, "pages/trials/plan.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def change_plan(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Correct what was planned."""
    by = person_of(request)
    test = test_run_by(by, pk)
    initial = {
        name: getattr(test, name)
        for name in ("planned_on", "gearbox_teeth", "wheel_teeth", "mass_height_mm", *WORDS)
    }
    initial |= {name: str(getattr(test, f"{name}_id") or "") for name in ("layout", *PARTS)}
    form = PlanForm(request.POST if request.method == "POST" else None, bike=test.bike, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            correct_test(by=by, test=test, **form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The plan is corrected.")
            return redirect("tire-test", test.pk)
    context = about(request, test) | {"bike": test.bike, "organisation": test.organisation, "form": form}
    return render(request, "pages/trials/plan.html", context, status=422 if form.errors else 200)


def _choice(label: str, rows: dict[str, Any]) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=[("", "Choose"), *((pk, str(row)) for pk, row in rows.items())]
    )


def _chosen(by: Person, bike: str, organisation: str) -> tuple[Organisation, Bike] | None:
    found = [
        (house, one)
        for house, one in bikes_to_test(by)
        if str(one.pk) == bike and organisation in {"", str(house.pk)}
    ]
    return found[0] if found else None


def _usual(bike: Bike, today: date) -> dict[str, Any]:
    """Return what is most likely: the tires on the bike are the baseline, on the wheels in use."""
    pair = WheelPair.objects.filter(bike=bike, is_in_use=True).first()
    on = Fitting.objects.filter(wheel_pair=pair, removed_at__isnull=True, voided_at__isnull=True)
    fitted = {one.axle: str(one.tire.spec_id) for one in on.select_related("tire")} if pair else {}
    usual: dict[str, Any] = {"planned_on": today}
    for side in Side.values:
        usual[f"{side}_pair"] = str(pair.pk) if pair else ""
    usual |= {f"baseline_{axle}": spec for axle, spec in fitted.items()}
    return usual


def planned(test: TireTest) -> list[tuple[str, list[str], str]]:
    """Return both sets as planned: their name, their specs and their wheels."""
    return [
        (side.label, [str(spec) for spec in test.specs(side.value).values()], test.pair(side.value).name)
        for side in Side
    ]
