"""A delivery list: sent, looked at row by row, taken into stock as a whole."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Organisation
from fleet.errors import NotAllowed, NotFound, Refusal
from fleet.exchange.deliveries import DELIVERY, deliveries_for, keep_delivery, receive_delivery, rows_of
from fleet.pages.asking import person_of, require_place
from fleet.pages.forms import PlainForm
from fleet.pages.stock import managed_by, old_before
from fleet.pages.trailer import local_today


def file_field(label: str) -> forms.FileField:
    """Return the field of a list, CSV or XLSX."""
    return forms.FileField(
        label=label,
        help_text="CSV or XLSX, at most 5 MB. The first row names the columns.",
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx"}),
        error_messages={
            "empty": "The file is empty: its first row names the columns.",
            "max_length": "The file's name is too long: shorten it to 100 characters.",
        },
        max_length=100,
    )


class ListForm(PlainForm):
    """Whose delivery, and the file it is listed in."""

    file = file_field("List")

    def __init__(self, *args: Any, vendors: list[Organisation], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(
            vendor=forms.ModelChoiceField(
                label="Vendor",
                queryset=Organisation.objects.filter(pk__in=[one.pk for one in vendors]),
                empty_label=None,
                initial=vendors[0].pk,
            )
        )
        if len(vendors) == 1:
            self.fields["vendor"].widget = forms.HiddenInput()


@require_http_methods(["GET", "HEAD", "POST"])
def send_list(request: HttpRequest) -> HttpResponse:
    """Ask for a list, and keep its rows to look at."""
    by, at = person_of(request), timezone.now()
    require_place(by, "trailer")
    vendors = managed_by(by)
    if not vendors:
        raise NotAllowed("Stock is received by the stock manager: ask yours.")
    is_sent = request.method == "POST"
    form = ListForm(request.POST if is_sent else None, request.FILES if is_sent else None, vendors=vendors)
    if is_sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            upload = keep_delivery(
                by=by, at=at, vendor=form.cleaned_data["vendor"], name=file.name, data=file.read()
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            return redirect("delivery", upload.pk)
    context = {"place": "trailer", "form": form, "columns": DELIVERY.columns}
    return render(request, "pages/send_list.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def delivery(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show what a list would bring, and take it into stock."""
    by, at = person_of(request), timezone.now()
    require_place(by, "trailer")
    upload = deliveries_for(by).filter(pk=pk).first()
    if upload is None:
        raise NotFound("There is no such list of yours: lists are kept for a day, send it again.")
    if upload.taken_at is not None:
        messages.info(request, "This list is in stock already; it is taken once.")
        return redirect("stock")
    refused = ""
    if request.method == "POST":
        try:
            lots = receive_delivery(by=by, at=at, upload=upload)
        except Refusal as refusal:
            refused = refusal.sentence
        else:
            messages.success(request, f"{len(lots)} lot{' is' if len(lots) == 1 else 's are'} in stock.")
            return redirect("stock")
    today = local_today(by, at)
    rows, whole = rows_of(upload, on=today)
    faulty = [row for row in rows if row.faults]
    context = {
        "place": "trailer",
        "upload": upload,
        "rows": rows,
        "whole": whole,
        "refused": refused,
        "faulty": faulty,
        "tires": sum(row.cells["quantity"] for row in rows if not row.faults),
        "is_ready": bool(rows) and not faulty and not whole,
        "today": today,
        "old_before": old_before(today),
    }
    return render(request, "pages/delivery.html", context, status=422 if refused else 200)
