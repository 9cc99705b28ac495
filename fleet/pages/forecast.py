"""A day's forecast by the hour: pasted or sent as a list."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.policy import Right, require
from fleet.errors import Refusal
from fleet.exchange.faults import Fault
from fleet.exchange.forecasts import EXAMPLE, FORECAST, Faulty, record_forecast
from fleet.exchange.uploads import records_of
from fleet.pages.asking import person_of
from fleet.pages.delivery import file_field
from fleet.pages.desk import desk_day
from fleet.pages.forms import KeyField, PlainForm


class ForecastForm(PlainForm):
    """The hours as text or as a file, and where they come from."""

    text = forms.CharField(
        label="Hours",
        required=False,
        max_length=20_000,
        initial=EXAMPLE,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "autocapitalize": "none"}),
        help_text="Pasted or typed; the first line names the columns.",
    )
    source = forms.CharField(
        label="Where it comes from",
        max_length=300,
        help_text="Such as: the national service, issued at 6:00.",
    )
    key = KeyField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(file=file_field("Or a file"))
        self.fields["file"].required = False

    def clean(self) -> dict[str, Any]:
        """Refuse a form without any hour."""
        given: dict[str, Any] = super().clean() or {}
        if not self.errors and not given.get("file") and given.get("text", "").strip() in {"", EXAMPLE}:
            self.add_error(
                "text", "No hour is given: add a line such as 9:00,14.5,8,50,1016 under the columns."
            )
        return given

    def data_and_name(self) -> tuple[bytes, str]:
        """Return the list as sent; cells pasted from a spreadsheet are parted by tabs."""
        file = self.cleaned_data["file"]
        if file:
            return file.read(), file.name
        text = self.cleaned_data["text"]
        return (
            "\n".join(line.replace("\t", ";") for line in text.splitlines()) if "\t" in text else text
        ).encode(), "pasted.csv"


@require_http_methods(["GET", "HEAD", "POST"])
def forecast(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Ask for a forecast, and store its hours all together."""
    by, at = person_of(request), timezone.now()
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    is_sent = request.method == "POST"
    form = ForecastForm(request.POST if is_sent else None, request.FILES if is_sent else None)
    faults: list[Fault] = []
    if is_sent and form.is_valid():
        data, name = form.data_and_name()
        given = form.cleaned_data
        try:
            rows = record_forecast(
                by=by, at=at, day=day, data=data, name=name, source=given["source"], key=given["key"]
            )
        except Faulty as refusal:
            faults = refusal.faults
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            others = len(records_of(data, name)) - 1 - len(rows)
            messages.success(
                request,
                f"{len(rows)} hour{'' if len(rows) == 1 else 's'} stored"
                f"{f'; {others} of other days passed over' if others else ''}. A new draft follows in a few seconds, or compute it "
                "now.",
            )
            return redirect("day", pk)
    context = {
        "place": "desk",
        "day": day,
        "form": form,
        "faults": faults,
        "columns": FORECAST.columns,
        "zone": day.layout.track.time_zone,
    }
    return render(request, "pages/forecast.html", context, status=422 if faults or form.errors else 200)
