"""Stock: what is where, the ledger of a lot, and what the stock manager does with it."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, may, organisations
from fleet.catalogue.models import TireSpec
from fleet.errors import Conflict, Invalid, NotFound, Refusal
from fleet.inventory.actions import count_stock, load_stock, move_stock, void_movement
from fleet.inventory.availability import counted, open_reservations
from fleet.inventory.models import Listing, Lot, Place, StockMovement
from fleet.inventory.queries import listings_for, lots_for, movements_for
from fleet.inventory.recalls import recalls_of_lots
from fleet.inventory.reservation import Reservation
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import KeyField, PlainForm, whole_number
from fleet.pages.outbox import made_at
from fleet.pages.trailer import local_today, trailer_zone
from fleet.pages.units import day_of

OLD_YEARS: Final = 2
"""From this age on a tire in stock is called old: sell it first. Common practice, no published source."""
DONE: Final = {
    "load": "Loaded on the trailer",
    "unload": "Put back into the store",
    "sold": "Sold without fitting",
    "returned": "Came back",
    "written_off": "Written off",
    "counted": "Counted: this many are there",
}
SIGNS: Final = {"sold": -1, "written_off": -1, "returned": 1}
UNDONE_ELSEWHERE: Final = {StockMovement.Kind.FITTED, StockMovement.Kind.LOADED}


@dataclass
class Shelf:
    """One spec of one vendor with its lots, the oldest first."""

    spec: TireSpec
    vendor: Organisation
    lots: list[Lot] = field(default_factory=list)
    listing: Listing | None = None
    in_store: int = 0
    on_trailer: int = 0
    reserved: int = 0
    free: int = 0

    @property
    def left(self) -> int:
        """Return how many tires are left in all."""
        return self.in_store + self.on_trailer

    @property
    def short(self) -> int:
        """Return how many are kept for riders that are not there."""
        return max(-self.free, 0)

    @property
    def is_low(self) -> bool:
        """Whether so few are left that the vendor calls it few."""
        return self.listing is not None and self.left <= self.listing.low_at

    def add(self, lot: Lot) -> None:
        """Put a lot on the shelf."""
        self.lots.append(lot)
        self.in_store += lot.in_store  # type: ignore[attr-defined]  # annotated by the query
        self.on_trailer += lot.on_trailer  # type: ignore[attr-defined]


class MoveForm(PlainForm):
    """What happened to tires of a lot."""

    known_as = {"counted": "quantity", "lot": "despite_reserved"}
    done = forms.ChoiceField(label="What happened", choices=DONE.items(), widget=forms.RadioSelect)
    place = forms.ChoiceField(
        label="Where",
        choices=Place.choices,
        widget=forms.RadioSelect,
        initial=Place.TRAILER,
        required=False,
        help_text="Loading moves tires between both places by itself.",
    )
    unit_price = forms.DecimalField(
        label="Price of one",
        max_digits=9,
        decimal_places=2,
        min_value=Decimal(0),
        required=False,
        help_text="Sold or come back; empty: as listed.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    reason = forms.CharField(
        label="Why", max_length=200, required=False, help_text="A write-off or a count that differs needs it."
    )
    despite_reserved = forms.CharField(
        label="Why what is reserved is sold",
        max_length=200,
        required=False,
        help_text="Only where riders reserved what is left.",
    )
    key = KeyField()

    def __init__(self, *args: Any, kept: Iterable[Reservation] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kept = {str(one.pk): one for one in kept}
        named = [
            (pk, f"{one.rider}: {one.left} for {day_of(one.wanted_on)}") for pk, one in self.kept.items()
        ]
        self.take(
            quantity=whole_number("Tires", least=0),
            reservation=forms.ChoiceField(
                label="Sold to whom reserved",
                choices=[("", "Nobody who reserved"), *named],
                required=False,
                error_messages={"invalid_choice": "Choose one of the open reservations listed."},
            ),
        )

    def clean(self) -> dict[str, Any] | None:
        """Refuse a move of no tire; a count may find none."""
        cleaned = super().clean()
        if self.cleaned_data.get("quantity") == 0 and self.cleaned_data.get("done") not in {None, "counted"}:
            self.add_error("quantity", "No tire moves this way: give 1 or more.")
        return cleaned


@require_safe
def stock(request: HttpRequest) -> HttpResponse:
    """Show what is left by spec and lot, in the store and on the trailer."""
    by = person_of(request)
    require_place(by, "trailer")
    is_all = "all" in request.GET
    lots = [lot for lot in lots_for(by) if is_all or lot.in_store or lot.on_trailer]  # type: ignore[attr-defined]
    at = timezone.now()
    zone = trailer_zone(by, at)
    today = at.astimezone(ZoneInfo(zone)).date()
    shelves = shelves_of(lots, listings_counted(by))
    context = {
        "place": "trailer",
        "shelves": shelves,
        "vendors": sorted({str(shelf.vendor) for shelf in shelves}),
        "at": at,
        "zone": zone,
        "recalled": recalls_of_lots(lot.pk for lot in lots),
        "is_all": is_all,
        "today": today,
        "old_before": old_before(today),
        "may_manage": bool(managed_by(by)),
    }
    return render(request, "pages/stock.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def lot(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show a lot with its ledger, and write what happened to its tires."""
    by, at = person_of(request), timezone.now()
    row = _lot_of(by, pk)
    kept = open_reservations().filter(vendor=row.vendor, spec=row.spec)
    form = MoveForm(request.POST if request.method == "POST" else None, kept=kept)
    if request.method == "POST" and form.is_valid():
        try:
            said = _store(by, at, made_at(request), row, form)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, said)
            if form.cleaned_data["done"] == "load":
                _warn(request, row)
            return redirect("lot", pk)
    return _shown(request, by, row, form=form)


@require_POST
def void_line(request: HttpRequest, pk: uuid.UUID, line: uuid.UUID) -> HttpResponse:
    """Mark a line of a lot's ledger as wrong."""
    by = person_of(request)
    row = _lot_of(by, pk)
    movement = movements_for(by).filter(lot=row, pk=line).first()
    if movement is None:
        raise NotFound("There is no such line in this lot's ledger: choose one from the list.")
    try:
        void_movement(by=by, at=timezone.now(), movement=movement, reason=request.POST.get("reason", ""))
    except (Invalid, Conflict) as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "The line counts no longer; it stays readable.")
    return redirect("lot", pk)


def shelves_of(lots: Iterable[Lot], listings: Iterable[Listing]) -> list[Shelf]:
    """Return lots by spec, front before rear; what is listed and sold out has an empty shelf."""
    found: dict[tuple[uuid.UUID, uuid.UUID], Shelf] = {
        (one.vendor_id, one.spec_id): Shelf(
            one.spec,
            one.vendor,
            listing=one,
            reserved=getattr(one, "reserved", 0),
            free=getattr(one, "free", 0),
        )
        for one in listings
    }
    for one in lots:
        found.setdefault((one.vendor_id, one.spec_id), Shelf(one.spec, one.vendor)).add(one)
    return sorted(found.values(), key=lambda shelf: (shelf.vendor.name, shelf.spec.axle, str(shelf.spec)))


def listings_counted(by: Person) -> Iterable[Listing]:
    """Return what somebody's vendors ask for each tire, with how many are kept for riders and how many are free."""
    return counted().filter(pk__in=listings_for(by).order_by().values("pk"))


def managed_by(by: Person) -> list[Organisation]:
    """Return the vendors whose stock somebody manages."""
    return list(organisations(by, Right.MANAGE_STOCK).filter(is_vendor=True).order_by("name"))


def old_before(today: date) -> date:
    """Return the date before which a tire in stock was made to be called old."""
    return date.fromordinal(today.toordinal() - round(OLD_YEARS * 365.2425))


def _lot_of(by: Person, pk: uuid.UUID) -> Lot:
    require_place(by, "trailer")
    found = lots_for(by).filter(pk=pk).first()
    if found is None:
        raise NotFound("There is no such lot in your stock: choose one from the list.")
    return found


def _warn(request: HttpRequest, row: Lot) -> None:
    for one in recalls_of_lots([row.pk]).get(row.pk, ()):
        messages.warning(
            request, f"Loaded all the same, though {one} Nothing of it is sold from the trailer."
        )


def _store(by: Person, at: datetime, when: datetime, row: Lot, form: MoveForm) -> str:
    said = form.cleaned_data
    done, quantity, place, key = said["done"], said["quantity"], said["place"] or Place.TRAILER, said["key"]
    if done in {"load", "unload"}:
        signed = quantity if done == "load" else -quantity
        load_stock(by=by, at=at, lot=row, quantity=signed, loaded_at=when, key=key)
        where = "on the trailer" if done == "load" else "back in the store"
        return f"Lot {row.code}: {quantity} {'tire is' if quantity == 1 else 'tires are'} {where}."
    if done == "counted":
        line = count_stock(
            by=by,
            at=at,
            lot=row,
            place=place,
            counted=quantity,
            counted_at=when,
            reason=said["reason"],
            key=key,
        )
        if line is None:
            return f"{quantity} counted, as the ledger says: nothing to correct."
        return f"{quantity} counted: the ledger is corrected by {line.quantity:+d}."
    move_stock(
        by=by,
        at=at,
        lot=row,
        kind=done,
        place=place,
        quantity=SIGNS[done] * quantity,
        moved_at=when,
        reason=said["reason"],
        unit_price=said["unit_price"],
        reservation=form.kept.get(said["reservation"]) if done == "sold" else None,
        despite_reserved=said["despite_reserved"] if done == "sold" else "",
        key=key,
    )
    return f"{DONE[done]}: {quantity} of lot {row.code}."


def _shown(request: HttpRequest, by: Person, row: Lot, *, form: MoveForm) -> HttpResponse:
    at = timezone.now()
    context = {
        "place": "trailer",
        "lot": row,
        "lines": movements_for(by).filter(lot=row),
        "recalls": recalls_of_lots([row.pk]).get(row.pk, []),
        "undone_elsewhere": UNDONE_ELSEWHERE,
        "form": form,
        "zone": trailer_zone(by, at),
        "today": local_today(by, at),
        "may_manage": may(by, Right.MANAGE_STOCK, row.vendor),
    }
    return render(request, "pages/lot.html", context, status=422 if form.errors else 200)
