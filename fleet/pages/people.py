"""Who works for an organisation: roles offered by a link, taken, ended."""

import uuid
from itertools import groupby
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

from fleet.accounts.actions import end_role, offer_role, take_role, withdraw_offer
from fleet.accounts.models import Organisation, Person, Role
from fleet.accounts.policy import Right, organisations, roles_to_give
from fleet.accounts.queries import members_for, open_offers, standing_offer
from fleet.errors import Conflict, Invalid, NotFound, Refusal
from fleet.pages.account_rules import INVITED
from fleet.pages.asking import person_of, surely
from fleet.pages.forms import PlainForm


class OfferForm(PlainForm):
    """Which role is offered, and to whom the link is going to be given."""

    known_as = {"organisation": "role"}
    meant_for = forms.CharField(
        label="For",
        max_length=100,
        help_text="The name of whoever gets the link.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.roles = roles_offered(by)
        is_several = len({organisation.pk for organisation, _ in self.roles.values()}) > 1
        self.take(
            role=forms.ChoiceField(
                label="Role",
                choices=[
                    (name, f"{Role(role).label}, {organisation}" if is_several else Role(role).label)
                    for name, (organisation, role) in self.roles.items()
                ],
                widget=forms.RadioSelect,
            )
        )


def roles_offered(by: Person) -> dict[str, tuple[Organisation, str]]:
    """Return the roles somebody may give, by the name each goes by in the form."""
    managed = organisations(by, Right.MANAGE_PEOPLE).order_by("name")
    return {
        f"{organisation.pk}/{role}": (organisation, role)
        for organisation in managed
        for role in roles_to_give(by, organisation)
    }


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@surely
def people(request: HttpRequest) -> HttpResponse:
    """Show who has which role, and offer one more; its link is shown this once."""
    by, at = person_of(request), timezone.now()
    form = OfferForm(request.POST if request.method == "POST" else None, by=by)
    made, link = None, ""
    if request.method == "POST" and form.is_valid():
        organisation, role = form.roles[form.cleaned_data["role"]]
        try:
            made, token = offer_role(
                by=by, at=at, organisation=organisation, role=role, meant_for=form.cleaned_data["meant_for"]
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            link = request.build_absolute_uri(reverse("take-role", args=[token]))
            form = OfferForm(by=by)
    by_organisation = groupby(members_for(by), key=lambda member: member.organisation)
    context = {
        "form": form,
        "made": made,
        "link": link,
        "organisations": [
            (organisation, list(members), roles_to_give(by, organisation))
            for organisation, members in by_organisation
        ],
        "waiting": open_offers(by, at=at),
    }
    return render(request, "pages/people.html", context, status=422 if form.errors else 200)


@require_POST
def end(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """End a role."""
    by = person_of(request)
    member = members_for(by).filter(pk=pk).first()
    if member is None:
        raise NotFound("There is no such role here for you: it may have ended.")
    try:
        end_role(by=by, membership=member)
    except (Invalid, Conflict) as refusal:
        messages.error(request, refusal.sentence)
    else:
        whose = "You are" if member.person_id == by.pk else f"{member.person} is"
        messages.success(
            request, f"{whose} no longer {member.get_role_display().lower()} at {member.organisation}."
        )
    return redirect("people")


@require_POST
def withdraw(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """End an offer that waits."""
    by, at = person_of(request), timezone.now()
    offer = open_offers(by, at=at).filter(pk=pk).first()
    if offer is None:
        raise NotFound("There is no such offer of yours: it may have been taken, or be over.")
    withdraw_offer(by=by, at=at, offer=offer)
    messages.success(request, f"The link for {offer.meant_for} no longer works.")
    return redirect("people")


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def take(request: HttpRequest, token: str) -> HttpResponse:
    """Show what is offered, to anybody with the link and nothing more; a signed-in person takes the role."""
    at = timezone.now()
    offer = standing_offer(token, at=at)
    if request.method == "POST":
        member = take_role(by=person_of(request), at=at, token=token)
        request.session.pop(INVITED, None)
        messages.success(
            request, f"You are {member.get_role_display().lower()} at {member.organisation} now."
        )
        return redirect("home")
    if not request.user.is_authenticated:
        request.session[INVITED] = True
    return render(request, "pages/take_role.html", {"offer": offer})
