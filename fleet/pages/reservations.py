"""The trailer's reservations: by day, what is kept for whom, and what to load for them."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.catalogue.models import TireSpec
from fleet.errors import NotFound, Refusal
from fleet.inventory.actions import confirm_reservation, end_reservation, set_aside
from fleet.inventory.availability import counted, open_reservations
from fleet.inventory.models import Listing
from fleet.inventory.reservation import Reservation
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import PlainForm
from fleet.pages.trailer import local_today
from fleet.pages.units import day_of


@dataclass
class Load:
    """What a load list says of one kind: reserved for the day, on the trailer, to load, and short."""

    listing: Listing
    reserved: int = 0
    on_trailer: int = 0
    in_store: int = 0

    @property
    def spec(self) -> TireSpec:
        """Return the kind."""
        return self.listing.spec

    @property
    def load(self) -> int:
        """Return how many to load for those who reserved."""
        return min(max(self.reserved - self.on_trailer, 0), self.in_store)

    @property
    def short(self) -> int:
        """Return how many are reserved that are nowhere."""
        return max(self.reserved - self.on_trailer - self.in_store, 0)

    @property
    def beside(self) -> int:
        """Return how many lie on the trailer, once loaded, beside what is reserved."""
        return max(self.on_trailer + self.load - self.reserved, 0)

    @property
    def is_low(self) -> bool:
        """Whether few are left on the trailer beside what is reserved, while the store has more."""
        return self.beside <= self.listing.low_at and self.in_store > self.load


@dataclass
class Morning:
    """One day's reservations, as the trailer prepares them."""

    on: date
    rows: list[Reservation] = field(default_factory=list)

    @property
    def tires(self) -> int:
        """Return how many tires are still to be handed over."""
        return sum(row.left for row in self.rows)


class ReleaseForm(PlainForm):
    """Why a reservation is released."""

    reason = forms.CharField(label="Why", max_length=200, help_text="The rider reads it.")


class StepForm(PlainForm):
    """A step needs nothing but its button; what refuses it stands on top."""


@require_safe
def reservations(request: HttpRequest) -> HttpResponse:
    """Show what is kept for whom, day by day, and what to load."""
    return _shown(request, person_of(request))


@require_POST
def step(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Confirm a reservation, or set its tires aside."""
    by, at = person_of(request), timezone.now()
    row = _row_of(by, pk)
    act = set_aside if request.POST.get("step") == "set-aside" else confirm_reservation
    form = StepForm({})
    try:
        after = act(by=by, at=at, reservation=row)
    except Refusal as refusal:
        form.refuse(refusal)
        return _shown(request, by, vendor=row.vendor, tried=(None, form))
    messages.success(request, f"{row.rider}, {row}: {after.state_in_words.lower()}.")
    return _back(row)


@require_POST
def release(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Let reserved tires go, and say why."""
    by, at = person_of(request), timezone.now()
    row = _row_of(by, pk)
    form = ReleaseForm(request.POST, auto_id=f"{pk}-%s")
    if form.is_valid():
        try:
            end_reservation(by=by, at=at, reservation=row, reason=form.cleaned_data["reason"])
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Released: {row} for {row.rider}.")
            return _back(row)
    return _shown(request, by, vendor=row.vendor, tried=(pk, form))


def vendors_of(by: Person) -> list[Organisation]:
    """Return the vendors whose trailer somebody works at."""
    return list(organisations(by, Right.FIT).filter(is_vendor=True).order_by("name"))


def load_list(vendor: Organisation, *, until: date) -> list[Load]:
    """Return what to load for the reservations up to a day, and what runs low, front before rear."""
    waiting = open_reservations().filter(vendor=vendor, wanted_on__lte=until)
    found = {
        one.spec_id: Load(one, on_trailer=_number(one, "on_trailer"), in_store=_number(one, "in_store"))
        for one in counted().filter(vendor=vendor)
    }
    for row in waiting:
        if row.spec_id in found:
            found[row.spec_id].reserved += row.left
    rows = sorted(found.values(), key=lambda one: (one.spec.axle, str(one.spec)))
    return [one for one in rows if one.load or one.short or one.is_low]


def _number(listing: Listing, name: str) -> int:
    return int(getattr(listing, name))


def _row_of(by: Person, pk: uuid.UUID) -> Reservation:
    require_place(by, "trailer")
    row = open_reservations().filter(pk=pk, vendor__in=vendors_of(by)).first()
    if row is None:
        raise NotFound("There is no such reservation at your trailer any more: look at the list again.")
    return row


def _back(row: Reservation) -> HttpResponse:
    answer = redirect("reservations")
    answer["Location"] += f"?vendor={row.vendor.code}#r-{row.pk}"
    return answer


def _shown(
    request: HttpRequest,
    by: Person,
    *,
    vendor: Organisation | None = None,
    tried: tuple[uuid.UUID | None, PlainForm] | None = None,
) -> HttpResponse:
    require_place(by, "trailer")
    vendors = vendors_of(by)
    code = request.GET.get("vendor", "")
    vendor = vendor or next((one for one in vendors if code in {"", one.code}), None)
    if vendor is None:
        raise NotFound("You work at no trailer under this name: go back and choose one.")
    days = _by_day(open_reservations().filter(vendor=vendor))
    until = _until(request, days)
    today = local_today(by, timezone.now())
    context: dict[str, Any] = {
        "place": "trailer",
        "vendor": vendor,
        "vendors": vendors,
        "days": days,
        "until": until,
        "loads": load_list(vendor, until=until or today),
        "today": today,
        "tried": tried[0] if tried else None,
        "is_refused": tried is not None,
        "form": tried[1] if tried else ReleaseForm(auto_id=False),
        "title_day": day_of(until) if until else "",
    }
    return render(request, "pages/reservations.html", context, status=422 if tried else 200)


def _by_day(rows: Iterable[Reservation]) -> list[Morning]:
    return [Morning(on, list(some)) for on, some in groupby(rows, key=lambda row: row.wanted_on)]


def _until(request: HttpRequest, days: list[Morning]) -> date | None:
    """Return the day to load for: the one asked for, or the next that has reservations."""
    asked = request.GET.get("day", "")
    chosen = next((one.on for one in days if one.on.isoformat() == asked), None)
    return chosen or (days[0].on if days else None)
