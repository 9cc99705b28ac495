"""Taking a tire off one's own wheel: why, what becomes of it, and when; with no network too."""

import uuid
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.catalogue.models import Axle
from fleet.errors import NotFound, Refusal
from fleet.garage.models import Rider, WheelPair
from fleet.inventory.actions import remove_tire
from fleet.inventory.models import Fitting, Removal
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm
from fleet.pages.garage import rider_of
from fleet.pages.stint_places import Where

DESTINATIONS: Final = (
    (Removal.Destination.HANDED_BACK.value, "I keep it"),
    (Removal.Destination.KEPT.value, "A vendor keeps it for me"),
    (Removal.Destination.SCRAPPED.value, "It is scrapped"),
)
"""What a rider says of a tire; one goes on hold at a vendor or at the gate, by whoever holds it there."""


class TakeOffForm(PlainForm):
    """Why a tire came off, where it goes, and when it came off."""

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = forms.RadioSelect
        self.take(
            reason=forms.ChoiceField(label="Why", choices=Removal.Reason.choices, widget=choices),
            destination=forms.ChoiceField(label="What becomes of it", choices=DESTINATIONS, widget=choices),
            removed_at=LocalTimeField(zone=zone, label="Off since", help_text=f"The clock of {zone}."),
            fitting=forms.UUIDField(widget=forms.HiddenInput, label=""),
            key=KeyField(),
        )
        self.fields["removed_at"].widget.attrs["data-now"] = zone


@require_http_methods(["GET", "HEAD", "POST"])
def take_off(request: HttpRequest, pk: uuid.UUID, axle: str) -> HttpResponse:
    """Show the form for the tire on one axle, and end its fitting."""
    by, at = person_of(request), timezone.now()
    pair = _pair(rider_of(by), pk, axle)
    fitting = _fitting(pair, axle, request.POST.get("fitting", ""))
    form = TakeOffForm(
        request.POST if request.method == "POST" else None,
        zone=Where(by, pair, at).zone,
        initial={"removed_at": at, "fitting": fitting.pk},
    )
    if request.method == "POST" and form.is_valid():
        said = dict(form.cleaned_data)
        said.pop("fitting")
        try:
            remove_tire(by=by, at=at, fitting=fitting, **said)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{fitting.tire.spec} is off the {axle} wheel.")
            return redirect("wheels", pair.bike_id)
    context = {"place": "garage", "pair": pair, "axle": axle, "fitting": fitting, "form": form}
    return render(request, "pages/take_off.html", context, status=422 if form.errors else 200)


def _pair(rider: Rider, pk: uuid.UUID, axle: str) -> WheelPair:
    pair = WheelPair.objects.filter(pk=pk, bike__rider=rider).select_related("bike__rider").first()
    if pair is None or axle not in Axle.values:
        raise NotFound("There are no such wheels in your garage: choose them there.")
    return pair


def _fitting(pair: WheelPair, axle: str, named: str) -> Fitting:
    """Return the fitting a form was made for, also one that ended since; without a form the one that stands now."""
    rows: QuerySet[Fitting] = Fitting.objects.filter(wheel_pair=pair, axle=axle, voided_at__isnull=True)
    rows = rows.select_related("tire__spec__line", "tire__owner", "wheel_pair__bike__rider")
    try:
        found = rows.filter(pk=uuid.UUID(named)).first() if named else None
    except ValueError:
        found = None
    if found is None:
        found = rows.filter(removed_at__isnull=True).first()
    if found is None:
        raise NotFound("No tire is logged on this wheel: there is nothing to take off.")
    return found
