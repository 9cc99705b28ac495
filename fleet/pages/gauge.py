"""A rider's pressure gauge against the trailer's master: both on one tire, and how far the rider's reads off."""

import secrets
import uuid
from datetime import datetime
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.errors import NotFound, Refusal
from fleet.garage.actions import add_instrument, compare_gauge, void_comparison
from fleet.garage.actions.comparing import FARTHEST_KPA
from fleet.garage.models import Instrument, Rider
from fleet.garage.queries import comparisons_for, is_old_comparison
from fleet.inventory.queries import masters_for
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, MeasuredField, PlainForm
from fleet.pages.garage import own_gauge, rider_of
from fleet.pages.units import off_by, pressure_unit

DOUBTFUL_KPA: Final = (
    14.0  # common practice, no published source: two psi; a gauge further off is better replaced
)
SHOWN: Final = 10


class _MasterField(forms.ModelChoiceField):  # type: ignore[type-arg]  # no generic at run time
    def label_from_instance(self, obj: Instrument) -> str:
        """Return a gauge with whose it is."""
        return f"{obj.name}, {obj.organisation}"


class GaugeForm(PlainForm):
    """What both gauges show on the same tire, one right after the other."""

    def __init__(
        self,
        *args: Any,
        person: Person,
        gauge: Instrument | None,
        masters: QuerySet[Instrument],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        unit = pressure_unit(person)
        named = f"Your gauge ({gauge.name})" if gauge else "Your gauge"
        if gauge is None:
            self.take(
                name=forms.CharField(
                    label="What you call your gauge",
                    max_length=60,
                    widget=forms.TextInput(attrs={"autocomplete": "off"}),
                )
            )
        self.take(
            own_kpa=MeasuredField(unit=unit, low=50, high=700, label=f"{named} shows"),
            master_kpa=MeasuredField(unit=unit, low=50, high=700, label="The trailer's master shows"),
        )
        if masters.exists():
            self.take(
                master=_MasterField(
                    label="Which master",
                    queryset=masters,
                    required=False,
                    empty_label="Another one",
                    error_messages={"invalid_choice": "Choose one of the gauges listed."},
                )
            )
        self.take(key=KeyField())

    def clean(self) -> dict[str, Any]:
        """Return both readings; two that are worlds apart were not of one tire."""
        said = super().clean() or self.cleaned_data
        own, master = said.get("own_kpa"), said.get("master_kpa")
        if own is not None and master is not None and abs(own - master) > FARTHEST_KPA:
            self.add_error(
                "own_kpa",
                "No gauge is that far off: read the same tire with both, one right after the other.",
            )
        return said


@require_http_methods(["GET", "HEAD", "POST"])
def gauge(request: HttpRequest) -> HttpResponse:
    """Show how the rider's gauge was compared, and take another comparison."""
    by = person_of(request)
    rider = rider_of(by)
    known = own_gauge(rider)
    at = timezone.now()
    form = GaugeForm(
        request.POST if request.method == "POST" else None, person=by, gauge=known, masters=masters_for(rider)
    )
    if request.method == "POST" and form.is_valid():
        try:
            stored = _compare(by, rider, known, form.cleaned_data, at)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            _say(request, by, stored)
            return redirect("gauge")
    context = {
        "place": "garage",
        "gauge": known,
        "is_old": known is not None and is_old_comparison(known, on=at.date()),
        "comparisons": list(comparisons_for(by).filter(instrument=known)[:SHOWN]) if known else [],
        "form": form,
    }
    return render(request, "pages/gauge.html", context, status=422 if form.errors else 200)


def _compare(
    by: Person, rider: Rider, known: Instrument | None, said: dict[str, Any], at: datetime
) -> Instrument:
    """Store the comparison, and with the first one the gauge; sent twice it is stored once."""
    stored = comparisons_for(by).filter(pk=said["key"]).first()
    if stored is not None:
        return stored.instrument
    with transaction.atomic():
        gauge = known or add_instrument(
            by=by,
            code=f"g-{secrets.token_hex(6)}",
            name=said["name"],
            kind=Instrument.Kind.PRESSURE,
            rider=rider,
        )
        compare_gauge(
            by=by,
            at=at,
            instrument=gauge,
            own_kpa=said["own_kpa"],
            master_kpa=said["master_kpa"],
            compared_at=at,
            master=said.get("master"),
            key=said["key"],
        )
    return gauge


@require_POST
def void(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Mark a comparison as wrong: the one before it counts again."""
    by = person_of(request)
    rider = rider_of(by)
    found = comparisons_for(by).filter(pk=pk, instrument__rider=rider, voided_at__isnull=True).first()
    if found is None:
        raise NotFound("There is no such comparison of your gauge: it may have been voided before.")
    void_comparison(by=by, at=timezone.now(), comparison=found, reason="taken back on the gauge's page")
    messages.success(request, "Taken back: the comparison before it counts again, where there is one.")
    return redirect("gauge")


def _say(request: HttpRequest, by: Person, stored: Instrument) -> None:
    if stored.offset_kpa:
        messages.success(
            request,
            f"Stored: {stored.name} reads {off_by(stored.offset_kpa, by)}. Guidance is shown as it reads.",
        )
    else:
        messages.success(request, f"Stored: {stored.name} reads as the master does.")
    if abs(stored.offset_kpa) > DOUBTFUL_KPA:
        messages.warning(request, "That is far off: compare once more, and think of another gauge.")
