"""Reserve tires: what a rider needs for which day, which vendors have enough, and what is kept for them already."""

import uuid
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.catalogue.models import AXLES, TireSpec
from fleet.errors import NotFound, Refusal
from fleet.events.models import Entry
from fleet.events.queries import coming_entries
from fleet.events.seers import SERVED
from fleet.garage.models import Rider
from fleet.inventory.actions import end_reservation, reserve
from fleet.inventory.actions.reservations import FARTHEST, MOST_OF_A_KIND
from fleet.inventory.availability import offers, reservations_for
from fleet.inventory.models import Fitting, Listing
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, PlainForm, whole_number
from fleet.pages.garage import rider_of
from fleet.pages.units import day_of

SHOWN_DAYS: Final = 30
"""How long a reservation that is over stays on the page."""


@dataclass(frozen=True)
class Offer:
    """What one vendor asks for so many tires, and whether it has them."""

    listing: Listing
    quantity: int
    has_enough: bool
    key: uuid.UUID = field(default_factory=uuid.uuid4)

    @property
    def total(self) -> Decimal:
        """Return what all of them cost."""
        return self.listing.price * self.quantity


class NeedForm(PlainForm):
    """Which tire, how many, and for which day."""

    def __init__(
        self, *args: Any, listed: list[Listing], mounted: list[TireSpec], at: datetime, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        specs = {one.spec_id: one.spec for one in listed}
        own = [spec for spec in mounted if spec.pk in specs]
        others = sorted(
            (spec for spec in specs.values() if spec not in own), key=lambda spec: (spec.axle, str(spec))
        )
        groups = [("On your bikes", own), *_by_axle(others)]
        self.take(
            spec=forms.ChoiceField(
                label="Tire",
                choices=[
                    (name, [(str(spec.pk), _named(spec)) for spec in some]) for name, some in groups if some
                ],
                error_messages={
                    "invalid_choice": "Choose one of the tires listed: no vendor sells this one."
                },
            ),
            quantity=whole_number("How many", least=1),
            wanted_on=forms.DateField(
                label="For which day",
                widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
                error_messages={"invalid": "This is no date: give one such as 2026-06-13."},
            ),
        )
        self.fields["quantity"].help_text = f"Up to {MOST_OF_A_KIND} of a kind."
        self.earliest, self.latest = at.date() - timedelta(days=1), (at + FARTHEST).date()

    def clean_quantity(self) -> int:
        """Refuse more than one rider may keep of a kind."""
        quantity: int = self.cleaned_data["quantity"]
        if quantity > MOST_OF_A_KIND:
            raise forms.ValidationError(
                f"{MOST_OF_A_KIND} tires of a kind are kept for one rider: give fewer, or ask the vendor for more."
            )
        return quantity

    def clean_wanted_on(self) -> date:
        """Refuse a day that is over or too far away before anybody is asked who has them."""
        wanted_on: date = self.cleaned_data["wanted_on"]
        if not self.earliest <= wanted_on <= self.latest:
            raise forms.ValidationError(
                f"Choose a day from today to {day_of(self.latest)} {self.latest:%Y}: this one is over or too far away."
            )
        return wanted_on


class ReserveForm(NeedForm):
    """The same, with the vendor chosen."""

    vendor = forms.UUIDField(
        widget=forms.HiddenInput, label="Vendor", error_messages={"invalid": "Choose a vendor from the list."}
    )
    key = KeyField()


@require_http_methods(["GET", "HEAD", "POST"])
def reserving(request: HttpRequest) -> HttpResponse:
    """Show who has the tires a rider needs, and reserve them."""
    by, at = person_of(request), timezone.now()
    rider = rider_of(by)
    entries = coming_entries([rider], at=at)
    listed, mounted = list(offers()), _mounted(rider)
    kinds: dict[str, Any] = {"listed": listed, "mounted": mounted, "at": at}
    if request.method == "POST":
        form: NeedForm = ReserveForm(request.POST, **kinds)
        if form.is_valid():
            try:
                said = _reserve(request, rider, at, form.cleaned_data, listed)
            except Refusal as refusal:
                form.refuse(refusal)
            else:
                messages.success(request, said)
                return redirect("reserve")
    else:
        form = NeedForm(_asked(request, entries, mounted, listed, at) if listed else None, **kinds)
    context = {
        "place": "garage",
        "form": form,
        "offers": _offers(form, listed),
        "kept": _kept(request, at),
        "entries": entries,
        "opens": SERVED,
    }
    return render(request, "pages/reserve.html", context, status=422 if form.errors else 200)


@require_POST
def let_go(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Take a reservation back."""
    by = person_of(request)
    rider = rider_of(by)
    row = reservations_for(by).filter(pk=pk, rider=rider).first()
    if row is None:
        raise NotFound("There is no such reservation of yours: choose one from the list.")
    try:
        end_reservation(by=by, at=timezone.now(), reservation=row)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"Taken back: {row}. {row.vendor} keeps nothing of it for you any more.")
    return redirect("reserve")


def _reserve(
    request: HttpRequest, rider: Rider, at: datetime, said: dict[str, Any], listed: list[Listing]
) -> str:
    chosen = next(
        (one for one in listed if one.vendor_id == said["vendor"] and str(one.spec_id) == said["spec"]), None
    )
    if chosen is None:
        raise NotFound("No vendor of that name sells this tire: choose one from the list.")
    row = reserve(
        by=person_of(request),
        at=at,
        rider=rider,
        vendor=chosen.vendor,
        spec=chosen.spec,
        quantity=said["quantity"],
        wanted_on=said["wanted_on"],
        key=said["key"],
    )
    return f"{chosen.vendor} keeps {row} for {day_of(row.wanted_on)}. You are told when they are ready."


def _asked(
    request: HttpRequest, entries: list[Entry], mounted: list[TireSpec], listed: list[Listing], at: datetime
) -> dict[str, Any]:
    """Return what was asked for, filled up with what is likely: a tire of the kind on the bike, for the next day."""
    on_offer = {one.spec_id for one in listed}
    likely = next((spec.pk for spec in mounted if spec.pk in on_offer), None) or next(iter(on_offer), "")
    day = entries[0].day.date if entries else at.date() + timedelta(days=1)
    given = {name: request.GET[name] for name in ("spec", "quantity", "wanted_on") if name in request.GET}
    return {"spec": str(likely), "quantity": "1", "wanted_on": f"{day:%Y-%m-%d}"} | given


def _mounted(rider: Rider) -> list[TireSpec]:
    """Return the kinds of tires on a rider's wheels, rears first: they wear first."""
    rows = Fitting.objects.filter(
        wheel_pair__bike__rider=rider, removed_at__isnull=True, voided_at__isnull=True
    ).select_related("tire__spec__line")
    specs = {
        row.tire.spec_id: row.tire.spec for row in rows.order_by("-wheel_pair__is_in_use", "-axle", "id")
    }
    return list(specs.values())


def _offers(form: NeedForm, listed: list[Listing]) -> list[Offer]:
    if not form.is_bound:
        return []
    form.is_valid()
    quantity, spec = form.cleaned_data.get("quantity"), form.cleaned_data.get("spec")
    if not (quantity and spec and form.cleaned_data.get("wanted_on")):
        return []
    found = [
        Offer(one, quantity, getattr(one, "free", 0) >= quantity)
        for one in listed
        if str(one.spec_id) == spec
    ]
    return sorted(found, key=lambda offer: (not offer.has_enough, offer.total, offer.listing.vendor.name))


def _kept(request: HttpRequest, at: datetime) -> list[Any]:
    since = at.date() - timedelta(days=SHOWN_DAYS)
    by = person_of(request)
    rows = reservations_for(by).filter(rider__person=by, wanted_on__gte=since)
    return sorted(rows, key=lambda row: (not row.is_open, row.wanted_on))


def _by_axle(specs: list[TireSpec]) -> list[tuple[str, list[TireSpec]]]:
    return [(f"Other {axle} tires", [spec for spec in specs if spec.axle == axle]) for axle in AXLES]


def _named(spec: TireSpec) -> str:
    return f"{spec.get_axle_display()}: {spec}"
