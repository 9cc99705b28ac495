"""What is held about oneself: taken out as an archive, or erased for good."""

import tempfile
from typing import Any

from allauth.account.decorators import reauthentication_required
from allauth.core.ratelimit import consume_or_429
from django import forms
from django.contrib import messages
from django.contrib.auth import logout
from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.accounts.models import Person
from fleet.errors import Refusal
from fleet.garage.queries import own_rider
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.privacy.actions import erase, take_out

IN_MEMORY = 2 * 1024 * 1024
"""From this size on an archive waits on the disk for its way out."""


class EraseForm(PlainForm):
    """The address once more, so that nobody erases by a slip of the hand."""

    typed = forms.CharField(
        label="Your e-mail address",
        help_text="Type it to show that you mean it.",
        widget=forms.EmailInput(
            attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_typed(self) -> str:
        """Return the address, if it is the account's own."""
        typed: str = self.cleaned_data["typed"].strip()
        if typed.casefold() != self.person.email.casefold():
            raise forms.ValidationError(
                f"This is not your address: to erase everything, type {self.person.email}."
            )
        return typed


@require_safe
def own_data(request: HttpRequest) -> HttpResponse:
    """Show what can be done with what is held about oneself."""
    return render(request, "pages/own_data.html", {"rides": own_rider(person_of(request)) is not None})


@require_http_methods(["GET", "HEAD", "POST"])
@reauthentication_required
def archive(request: HttpRequest) -> HttpResponseBase:
    """Hand out everything held about the one who asks."""
    by, at = person_of(request), timezone.now()
    if request.method != "POST":
        return render(request, "pages/take_out.html")
    if too_many := consume_or_429(request, action="take_out"):
        return too_many
    file = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 -- the answer closes it when it is sent
    take_out(by=by, at=at, file=file)
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename=f"track-day-tires-{at:%Y-%m-%d}.zip")


@require_http_methods(["GET", "HEAD", "POST"])
@reauthentication_required
def end(request: HttpRequest) -> HttpResponse:
    """Say what an erasure takes and what stays, and erase once the address was typed."""
    by = person_of(request)
    form = EraseForm(request.POST if request.method == "POST" else None, person=by)
    if request.method == "POST" and form.is_valid():
        try:
            erase(by=by, at=timezone.now())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            logout(request)
            messages.success(request, "Everything personal of yours is erased, and your account is closed.")
            return redirect("sign-in")
    return render(request, "pages/erase.html", {"form": form}, status=422 if form.errors else 200)
