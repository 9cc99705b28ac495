"""Fitting a tire at the trailer: from stock or the rider's own, the old one taken off in the same step."""

import uuid
from datetime import date, datetime
from typing import Any, Final

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.errors import Refusal
from fleet.inventory.actions import fit_tire, remove_tire, replace_tire
from fleet.inventory.models import Fitting, JobTicket, Lot, Place, Removal
from fleet.inventory.queries import left_at, tickets_for
from fleet.pages.asking import as_uuid, person_of, require_place
from fleet.pages.fit_choices import (
    NOTHING,
    Bench,
    Choice,
    bench_of,
    choices_on,
    chosen_among,
    likeliest,
)
from fleet.pages.fit_form import FitForm
from fleet.pages.ticket import ticket_of
from fleet.pages.trailer import trailer_zone, vendor_for, wheel_pair_served
from fleet.pages.units import age

NO_TICKET_YET: Final = uuid.UUID(int=0)
"""Stands in the form's address for the ticket that a device opened and has still to send."""


@require_http_methods(["GET", "POST"])
def fit(request: HttpRequest, pk: uuid.UUID, axle: str) -> HttpResponse:
    """Show the form of one axle, and store what it says."""
    _require_axle(axle)
    by = person_of(request)
    ticket = ticket_of(by, pk)
    if _is_stored(ticket, request.POST.get("key", "")):
        messages.info(request, "This was stored before; it is stored once.")
        return redirect("ticket", pk)
    at = timezone.now()
    bench = bench_of(ticket.vendor, ticket.wheel_pair, axle, ticket)
    form = _form(request, by, at, bench)
    if request.method == "POST" and form.is_valid() and form.unconfirmed is None:
        try:
            said = _store(by, at, ticket, bench, form)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, said)
            return redirect("ticket", pk)
    return _shown(request, bench, form, at)


@require_safe
def fit_wheels(request: HttpRequest, pk: uuid.UUID, axle: str) -> HttpResponse:
    """Show the same form for wheels whose ticket is open, or waits on the device to be sent before it."""
    _require_axle(axle)
    by = person_of(request)
    require_place(by, "trailer")
    pair = wheel_pair_served(by, pk)
    named = as_uuid(request.GET.get("ticket", ""))
    here = tickets_for(by).filter(wheel_pair=pair)
    ticket = here.filter(pk=named).first() if named else here.exclude(state=JobTicket.State.COLLECTED).first()
    vendor = ticket.vendor if ticket else vendor_for(by, pair.bike.rider)
    bench = bench_of(vendor, pair, axle, ticket)
    at = timezone.now()
    return _shown(request, bench, _form(request, by, at, bench), at, waiting=named)


def _require_axle(axle: str) -> None:
    if axle not in AXLES:
        raise Http404


def _form(request: HttpRequest, by: Person, at: datetime, bench: Bench) -> FitForm:
    choices = choices_on(bench, by, on=at.date())
    initial = {"fitted_at": at, "chosen": likeliest(choices)} | bench.usual_end
    return FitForm(
        request.POST if request.method == "POST" else None, axle=bench.axle, has_old=bench.old is not None,
        choices=choices, zone=trailer_zone(by, at), initial=initial,
    )  # fmt: skip


def _shown(
    request: HttpRequest, bench: Bench, form: FitForm, at: datetime, *, waiting: uuid.UUID | None = None
) -> HttpResponse:
    ticket = bench.ticket.pk if bench.ticket else waiting
    is_asked = form.is_bound and form.unconfirmed is not None
    context = {
        "place": "trailer", "bench": bench, "ticket": bench.ticket, "axle": bench.axle, "old": bench.old, "form": form,
        "has_any": any(choice.value != NOTHING for choice in form.choices),
        "action": reverse("fit", args=[ticket, bench.axle]) if ticket else "",
        "action_of": reverse("fit", args=[NO_TICKET_YET, bench.axle]), "asked": form.unconfirmed if is_asked else None, "today": at.date(),
    }  # fmt: skip
    return render(request, "pages/fit.html", context, status=422 if form.errors or is_asked else 200)


def _is_stored(ticket: JobTicket, key: str) -> bool:
    pk = as_uuid(key)
    return pk is not None and (
        Fitting.objects.filter(pk=pk, ticket=ticket).exists()
        or Removal.objects.filter(pk=pk, fitting__wheel_pair=ticket.wheel_pair).exists()
    )


def _store(by: Person, at: datetime, ticket: JobTicket, bench: Bench, form: FitForm) -> str:
    said, old = form.cleaned_data, bench.old
    when, key, vendor = said["fitted_at"], said["key"], ticket.vendor
    removal = {"reason": said.get("old_reason", ""), "destination": said.get("old_destination", "")}
    if said["chosen"] == NOTHING and old is not None:
        remove_tire(by=by, at=at, fitting=old.fitting, removed_at=when, vendor=vendor, key=key, **removal)
        return f"The {bench.axle} tire is off. The axle is empty: fit a tire before these wheels go back."
    choice = chosen_among(form.choices, said["chosen"]) or Choice("", "")
    goes_on: dict[str, Any] = {
        "wheel_pair": ticket.wheel_pair,
        "axle": bench.axle,
        "fitted_at": when,
        "vendor": vendor,
        "ticket": ticket,
        "lot": choice.lot,
        "tire": choice.tire,
        "identification": said["identification"] if choice.lot else "",
        "despite": [one.sentence for one in choice.against],
    }
    if old is None:
        fitting = fit_tire(by=by, at=at, key=key, **goes_on)
    else:
        fitting = replace_tire(by=by, at=at, key=key, **goes_on, **removal)
    return _confirmation(fitting, at.date(), choice.lot)


def _confirmation(fitting: Fitting, today: date, lot: Lot | None) -> str:
    tire = fitting.tire
    made = f"made in the week of {tire.made_on:%-d %b %Y}, " if tire.made_on else ""
    left = f" {left_at(lot, Place.TRAILER)} of lot {lot.code} left on the trailer." if lot else ""
    return f"{fitting.get_axle_display()} tire fitted: {tire.spec}, {made}{age(tire.made_on, today)}.{left}"
