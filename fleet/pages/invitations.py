"""Invitations: made by a crew for a walk-in, and followed by whoever takes over the record."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import NotAllowed, NotFound, Refusal
from fleet.garage.actions import claim_record, invite, revoke_invitation
from fleet.garage.models import Rider
from fleet.garage.queries import open_invitations, riders_to_invite, standing_invitation
from fleet.pages.account_rules import INVITED
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm


class InviteForm(PlainForm):
    """Whom to invite."""

    rider = forms.CharField(
        label="Rider's code",
        max_length=40,
        help_text="A rider your organisation registered, who has no account yet.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by = by

    def clean_rider(self) -> Rider:
        """Return the rider with this code."""
        code = str(self.cleaned_data["rider"])
        rider = riders_to_invite(self.by).filter(code__iexact=code).first()
        if rider is None:
            raise forms.ValidationError(
                f"No rider without an account was registered by you under “{code}”: check the code on the ticket."
            )
        return rider


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def invitations(request: HttpRequest) -> HttpResponse:
    """Show the invitations that wait, and make one more; its link is shown this once."""
    by, at = person_of(request), timezone.now()
    if not organisations(by, Right.INVITE).exists():
        raise NotAllowed("Invitations are made by the crew of a vendor or an organiser.")
    form = InviteForm(request.POST if request.method == "POST" else None, by=by)
    made, link = None, ""
    if request.method == "POST" and form.is_valid():
        try:
            made, token = invite(by=by, at=at, rider=form.cleaned_data["rider"])
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            link = request.build_absolute_uri(reverse("claim", args=[token]))
            form = InviteForm(by=by)
    context = {"form": form, "made": made, "link": link, "waiting": open_invitations(by, at=at)}
    return render(request, "pages/invitations.html", context, status=422 if form.errors else 200)


@require_POST
def revoke(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """End an invitation that waits."""
    by, at = person_of(request), timezone.now()
    invitation = open_invitations(by, at=at).filter(pk=pk).first()
    if invitation is None:
        raise NotFound("There is no such invitation of yours: it may have been used, or be over.")
    revoke_invitation(by=by, at=at, invitation=invitation)
    messages.success(request, f"The invitation of {invitation.rider} is revoked.")
    return redirect("invitations")


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def claim(request: HttpRequest, token: str) -> HttpResponse:
    """Show who invites, to anybody with the link and nothing more; a signed-in person takes the record over."""
    at = timezone.now()
    invitation = standing_invitation(token, at=at)
    if request.method == "POST":
        claim_record(by=person_of(request), at=at, token=token)
        request.session.pop(INVITED, None)
        messages.success(request, "The record is yours now, with everything that was logged on it.")
        return redirect("garage")
    if not request.user.is_authenticated:
        request.session[INVITED] = True
    return render(request, "pages/claim.html", {"organisation": invitation.rider.registered_with})
