"""Taking deliveries into stock."""

from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Organisation
from fleet.catalogue.models import TireSpec
from fleet.errors import NotAllowed, Refusal
from fleet.inventory.actions import receive_lot
from fleet.inventory.models import Place
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm, whole_number
from fleet.pages.stock import managed_by
from fleet.pages.trailer import trailer_zone


class ReceiveForm(PlainForm):
    """A delivery: what came, how many, and when they were made."""

    def __init__(self, *args: Any, vendors: list[Organisation], zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        specs = TireSpec.objects.select_related("line").order_by("axle", "line__maker", "line__name", "size")
        self.take(
            vendor=forms.ModelChoiceField(
                label="Vendor",
                queryset=Organisation.objects.filter(pk__in=[one.pk for one in vendors]),
                empty_label=None,
            ),
            spec=SpecField(label="Tire", queryset=specs, empty_label="Choose one"),
            code=forms.SlugField(
                label="Lot",
                max_length=40,
                help_text="Your short name for this delivery, such as ald-r-26-08.",
                error_messages={"invalid": "Letters, digits, hyphens and underscores only."},
                widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
            ),
            date_code=forms.CharField(
                label="Date code",
                max_length=20,
                help_text="Week and year of manufacture as on the sidewall, such as 0826.",
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            ),
            quantity=whole_number("Tires", least=1),
            unit_cost=forms.DecimalField(
                label="What one cost",
                max_digits=9,
                decimal_places=2,
                min_value=Decimal(0),
                required=False,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            ),
            place=forms.ChoiceField(label="Where they are", choices=Place.choices, widget=forms.RadioSelect),
            received_at=LocalTimeField(zone=zone, label="Came at", help_text=f"The track's clock, {zone}."),
            key=KeyField(),
        )
        if not self.is_bound:
            self.fields["received_at"].widget.attrs["data-now"] = zone
        if len(vendors) == 1:
            self.fields["vendor"].widget = forms.HiddenInput()
            self.fields["vendor"].label = ""
            self.initial.setdefault("vendor", vendors[0].pk)


class SpecField(forms.ModelChoiceField):  # type: ignore[type-arg]  # generic in the stubs only
    """A spec from the catalogue, told by its axle first."""

    def label_from_instance(self, obj: Any) -> str:
        """Return how a spec stands in the list."""
        return f"{obj.get_axle_display()}: {obj}"


@require_http_methods(["GET", "HEAD", "POST"])
def receive(request: HttpRequest) -> HttpResponse:
    """Take a delivery into stock."""
    by, at = person_of(request), timezone.now()
    require_place(by, "trailer")
    vendors = managed_by(by)
    if not vendors:
        raise NotAllowed("Stock is received by the stock manager: ask yours.")
    form = ReceiveForm(
        request.POST if request.method == "POST" else None,
        vendors=vendors,
        zone=trailer_zone(by, at),
        initial={"received_at": at, "place": Place.STORE},
    )
    if request.method == "POST" and form.is_valid():
        try:
            row = receive_lot(by=by, at=at, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Lot {row.code} is in stock, {form.cleaned_data['quantity']} in all.")
            return redirect("lot", row.pk)
    context = {"place": "trailer", "form": form}
    return render(request, "pages/receive.html", context, status=422 if form.errors else 200)
