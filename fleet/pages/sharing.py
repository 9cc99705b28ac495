"""Who can see a rider's data and why, and the permissions the rider gives and takes back."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Organisation
from fleet.errors import NotFound
from fleet.events.seers import seers_of
from fleet.garage.actions import share, take_back
from fleet.garage.models import Rider, Sharing
from fleet.garage.queries import sharings_of
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.pages.garage import rider_of


class AllowForm(PlainForm):
    """Which organisation may see the rider's stints and notes."""

    def __init__(self, *args: Any, rider: Rider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        allowed = sharings_of(rider).values("organisation")
        self.take(
            organisation=forms.ModelChoiceField(
                label="Organisation",
                queryset=Organisation.objects.exclude(pk__in=allowed).order_by("name"),
                empty_label="Choose one",
                error_messages={
                    "invalid_choice": "Choose one of those listed: this one sees them already, or is none."
                },
            )
        )


@require_http_methods(["GET", "HEAD", "POST"])
def sharing(request: HttpRequest) -> HttpResponse:
    """Show who sees what, and let one more organisation in."""
    by, at = person_of(request), timezone.now()
    rider = rider_of(by)
    form = AllowForm(request.POST if request.method == "POST" else None, rider=rider)
    if request.method == "POST" and form.is_valid():
        organisation = form.cleaned_data["organisation"]
        share(by=by, rider=rider, organisation=organisation, scope=Sharing.Scope.STINTS, at=at)
        messages.success(request, f"{organisation} may see your stints, readings and notes from now on.")
        return redirect("sharing")
    context = {"place": "garage", "seers": seers_of(rider, on=at.date()), "form": form}
    return render(request, "pages/sharing.html", context, status=422 if form.errors else 200)


@require_POST
def end_sharing(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Take a permission back."""
    by = person_of(request)
    given = sharings_of(rider_of(by)).filter(pk=pk).first()
    if given is None:
        raise NotFound("There is no such permission of yours: it may have been taken back.")
    take_back(by=by, sharing=given, at=timezone.now())
    messages.success(request, f"{given.organisation} no longer sees your stints, readings and notes.")
    return redirect("sharing")
