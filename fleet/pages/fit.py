"""Fitting a tire at the trailer: from stock or the rider's own, the old one taken off in the same step."""

import uuid
from datetime import date, datetime
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.catalogue.models import TireSpec
from fleet.errors import Refusal
from fleet.inventory.actions import fit_tire, remove_tire, replace_tire
from fleet.inventory.models import Fitting, JobTicket, Lot, Place, Removal, Tire
from fleet.inventory.queries import left_at
from fleet.life.queries import MountedTire, tires_for
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm
from fleet.pages.ticket import AXLES, mounted_on, ticket_of
from fleet.pages.trailer import lots_on_trailer, trailer_zone
from fleet.pages.units import age

NOTHING: Final = "nothing"
KNOWN_AS: Final = {
    "lot": "chosen", "tire": "chosen", "axle": "chosen", "quantity": "chosen",
    "removed_at": "fitted_at", "moved_at": "fitted_at", "reason": "old_reason", "destination": "old_destination",
}  # fmt: skip


class FitForm(PlainForm):
    """Which tire goes on, when, and what becomes of the old one."""

    known_as = KNOWN_AS

    def __init__(
        self, *args: Any, axle: str, old: MountedTire | None, lots: list[tuple[Lot, int]], own: list[Tire], zone: str,
        today: date, **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.take(
            chosen=forms.ChoiceField(
                label=f"Which {axle} tire", choices=_choices(lots, own, old, today), widget=forms.RadioSelect
            ),
            identification=forms.CharField(
                label="Identification number, or its date code",
                max_length=20,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
                help_text="Read it off the sidewall; the four digits of week and year are enough. "
                "Left empty, the lot's date counts.",
            ),
            fitted_at=LocalTimeField(zone=zone, label="Fitted at", help_text=f"The track's clock, {zone}."),
            key=KeyField(),
        )
        if old is not None:
            self.take(
                old_reason=forms.ChoiceField(
                    label="Why the old tire comes off",
                    choices=Removal.Reason.choices,
                    widget=forms.RadioSelect,
                ),
                old_destination=forms.ChoiceField(
                    label="Where it goes", choices=Removal.Destination.choices, widget=forms.RadioSelect
                ),
            )


@require_http_methods(["GET", "POST"])
def fit(request: HttpRequest, pk: uuid.UUID, axle: str) -> HttpResponse:
    """Show the form of one axle, and store what it says."""
    if axle not in AXLES:
        raise Http404
    by = person_of(request)
    ticket = ticket_of(by, pk)
    if _is_stored(ticket, request.POST.get("key", "")):
        messages.info(request, "This was stored before; it is stored once.")
        return redirect("ticket", pk)
    at = timezone.now()
    old = mounted_on(ticket).get(axle)
    zone = trailer_zone(by, at)
    lots = [
        (lot, left)
        for lot, left in lots_on_trailer(by)
        if lot.vendor == ticket.vendor and lot.spec.axle == axle
    ]
    own = _own_tires(by, ticket, axle, at.date())
    form = FitForm(
        request.POST or None, axle=axle, old=old, lots=lots, own=own, zone=zone, today=at.date(),
        initial={"fitted_at": at},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        try:
            said = _store(by, at, ticket, axle, old, form.cleaned_data, lots, own)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, said)
            return redirect("ticket", pk)
    context = {
        "place": "trailer", "ticket": ticket, "axle": axle, "old": old, "form": form, "today": at.date(),
        "has_any": bool(lots or own),
    }  # fmt: skip
    return render(request, "pages/fit.html", context, status=422 if form.errors else 200)


def _is_stored(ticket: JobTicket, key: str) -> bool:
    try:
        pk = uuid.UUID(key)
    except ValueError:
        return False
    return (
        Fitting.objects.filter(pk=pk, ticket=ticket).exists()
        or Removal.objects.filter(pk=pk, fitting__wheel_pair=ticket.wheel_pair).exists()
    )


def _choices(
    lots: list[tuple[Lot, int]], own: list[Tire], old: MountedTire | None, today: date
) -> list[tuple[str, str]]:
    found = [
        (
            f"tire:{tire.pk}",
            _two_lines(tire.spec, f"the rider's own, label {tire.label_code}, {age(tire.made_on, today)}"),
        )
        for tire in own
    ]
    found += [
        (
            f"lot:{lot.pk}",
            _two_lines(lot.spec, f"lot {lot.code}, {age(lot.made_on, today)}, {left} on the trailer"),
        )
        for lot, left in sorted(lots, key=lambda row: _nearest_first(row[0], old))
    ]
    return [*found, (NOTHING, "None: take the old tire off and leave the axle empty")] if old else found


def _two_lines(spec: TireSpec, below: str) -> str:
    return format_html('<span><strong>{}</strong><br><span class="soft">{}</span></span>', spec, below)


def _nearest_first(lot: Lot, old: MountedTire | None) -> tuple[int, str, date]:
    spec = old.fitting.tire.spec if old else None
    if spec is not None and lot.spec_id == spec.pk:
        rank = 0
    else:
        rank = 1 if spec is not None and lot.spec.size == spec.size else 2
    return rank, str(lot.spec), lot.made_on


def _own_tires(by: Person, ticket: JobTicket, axle: str, on: date) -> list[Tire]:
    on_wheels = Fitting.objects.filter(removed_at__isnull=True, voided_at__isnull=True).values("tire")
    scrapped = Removal.objects.filter(destination=Removal.Destination.SCRAPPED, voided_at__isnull=True)
    rows = tires_for(by, on=on).filter(owner=ticket.wheel_pair.bike.rider, spec__axle=axle)
    return list(rows.exclude(pk__in=on_wheels).exclude(pk__in=scrapped.values("fitting__tire")))


def _store(
    by: Person,
    at: datetime,
    ticket: JobTicket,
    axle: str,
    old: MountedTire | None,
    said: dict[str, Any],
    lots: list[tuple[Lot, int]],
    own: list[Tire],
) -> str:
    when, key, vendor = said["fitted_at"], said["key"], ticket.vendor
    removal = {"reason": said.get("old_reason", ""), "destination": said.get("old_destination", "")}
    if said["chosen"] == NOTHING and old is not None:
        remove_tire(by=by, at=at, fitting=old.fitting, removed_at=when, vendor=vendor, key=key, **removal)
        return f"The {axle} tire is off. The axle is empty: fit a tire before these wheels go back."
    kind, _, pk = said["chosen"].partition(":")
    chosen: dict[str, Any] = {
        "lot": next((lot for lot, _ in lots if kind == "lot" and str(lot.pk) == pk), None),
        "tire": next((tire for tire in own if kind == "tire" and str(tire.pk) == pk), None),
        "identification": said["identification"] if kind == "lot" else "",
    }
    on = {
        "wheel_pair": ticket.wheel_pair,
        "axle": axle,
        "fitted_at": when,
        "vendor": vendor,
        "ticket": ticket,
    }
    if old is None:
        fitting = fit_tire(by=by, at=at, key=key, **on, **chosen)
    else:
        fitting = replace_tire(by=by, at=at, key=key, **on, **chosen, **removal)
    return _confirmation(fitting, at.date(), chosen["lot"])


def _confirmation(fitting: Fitting, today: date, lot: Lot | None) -> str:
    tire = fitting.tire
    made = f"made in the week of {tire.made_on:%-d %b %Y}, " if tire.made_on else ""
    left = f" {left_at(lot, Place.TRAILER)} of lot {lot.code} left on the trailer." if lot else ""
    return f"{fitting.get_axle_display()} tire fitted: {tire.spec}, {made}{age(tire.made_on, today)}.{left}"
