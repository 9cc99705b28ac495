"""What a vendor asks for each tire, and from how few left on it is low."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Organisation
from fleet.catalogue.models import TireSpec
from fleet.errors import NotAllowed, NotFound
from fleet.inventory.actions import list_spec
from fleet.inventory.models import Listing, Lot
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import PlainForm
from fleet.pages.stock import managed_by


class PricesForm(PlainForm):
    """Two fields for each tire; one without a price is not listed, and one listed before stays so."""

    def __init__(
        self, *args: Any, specs: Iterable[TireSpec], listed: dict[Any, Listing], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.rows = []
        for spec in specs:
            listing = listed.get(spec.pk)
            price, low = f"price-{spec.pk}", f"low-{spec.pk}"
            self.take(
                **{
                    price: forms.DecimalField(
                        label=f"Price, {spec}",
                        max_digits=9,
                        decimal_places=2,
                        min_value=Decimal(0),
                        required=listing is not None,
                        initial=listing.price if listing else None,
                        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                    ),
                    low: forms.IntegerField(
                        label=f"Low at, {spec}",
                        min_value=0,
                        max_value=999,
                        required=False,
                        initial=listing.low_at if listing else None,
                        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
                    ),
                }
            )
            self.rows.append((spec, price, low))

    def fields_of(self) -> list[tuple[TireSpec, forms.BoundField, forms.BoundField]]:
        """Return each tire with its two fields."""
        return [(spec, self[price], self[low]) for spec, price, low in self.rows]


@require_http_methods(["GET", "HEAD", "POST"])
def prices(request: HttpRequest, code: str = "") -> HttpResponse:
    """Show and set the prices of a vendor whose stock somebody manages."""
    by = person_of(request)
    require_place(by, "trailer")
    vendors = managed_by(by)
    if not vendors:
        raise NotAllowed("Prices are set by the stock manager: ask yours.")
    vendor = next((one for one in vendors if code in {"", one.code}), None)
    if vendor is None:
        raise NotFound("You manage no stock under this name: go back and choose one.")
    listed = {one.spec_id: one for one in Listing.objects.filter(vendor=vendor)}
    form = PricesForm(
        request.POST if request.method == "POST" else None, specs=_stocked(vendor, listed), listed=listed
    )
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            for spec, price, low in form.rows:
                asked, low_at = form.cleaned_data[price], form.cleaned_data[low] or 0
                if asked is not None:
                    list_spec(by=by, vendor=vendor, spec=spec, price=asked, low_at=low_at)
        messages.success(request, "The prices are kept. What was sold before keeps its price.")
        return redirect("stock")
    context = {"place": "trailer", "vendor": vendor, "vendors": vendors, "form": form}
    return render(request, "pages/prices.html", context, status=422 if form.errors else 200)


def _stocked(vendor: Organisation, listed: dict[Any, Listing]) -> list[TireSpec]:
    """Return the tires a vendor ever had in stock or listed, front before rear."""
    had = Lot.objects.filter(vendor=vendor).values("spec")
    specs = TireSpec.objects.filter(pk__in=had) | TireSpec.objects.filter(pk__in=listed)
    return sorted(specs.select_related("line").distinct(), key=lambda spec: (spec.axle, str(spec)))
