"""API keys: made and shown once, listed, revoked."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.actions import make_key, make_organisation_key, revoke_key
from fleet.accounts.models import ApiKey, Organisation, Person, Role, Scope
from fleet.accounts.policy import Right, organisations, roles_for_keys
from fleet.accounts.queries import keys_for
from fleet.errors import NotFound, Refusal
from fleet.pages.asking import person_of, surely
from fleet.pages.forms import LAST_YEAR, KeyField, PlainForm

OWN: Final = "own"


@dataclass(frozen=True)
class Listed:
    """A key as its list shows it."""

    key: ApiKey
    acts_as: str
    opens: list[str]
    last_day: date | None
    is_over: bool


class KeyForm(PlainForm):
    """Whom a key acts for, what it opens, and how long."""

    known_as = {"expires_at": "last_day"}
    key = KeyField()
    owner = forms.ChoiceField(label="Acts as", widget=forms.RadioSelect, initial=OWN)
    name = forms.CharField(
        label="Name",
        max_length=60,
        help_text="What will use it, such as “scale in the van”.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    scopes = forms.MultipleChoiceField(
        label="What it opens", choices=Scope.choices, widget=forms.CheckboxSelectMultiple
    )
    last_day = forms.DateField(
        label="Last day it works",
        required=False,
        help_text="Until midnight UTC. Empty: until somebody revokes it.",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"invalid": "This is no date: give one such as 2026-12-31, or none."},
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.owners = owners_for(by)
        choices = [(OWN, f"{by.name}: all that you may do")]
        choices += [(name, acts_for(*owner)) for name, owner in self.owners.items()]
        owner = self.fields["owner"]
        owner.choices = choices  # type: ignore[attr-defined]  # a ChoiceField, as declared above
        if not self.owners:
            owner.widget, owner.required = forms.HiddenInput(), False
        self.fields["scopes"].error_messages["required"] = "A key without a scope opens nothing: choose one."

    def clean_last_day(self) -> date | None:
        """Return the last day, within the years the service knows."""
        last: date | None = self.cleaned_data["last_day"]
        if last and last.year >= LAST_YEAR:
            raise forms.ValidationError(
                f"The year lies before {LAST_YEAR}: check it, or leave the day empty."
            )
        return last

    def make(self, by: Person, at: datetime) -> tuple[ApiKey, str]:
        """Return the key as made, and its secret."""
        last = self.cleaned_data["last_day"]
        said = {
            "name": self.cleaned_data["name"],
            "scopes": self.cleaned_data["scopes"],
            "expires_at": datetime.combine(last + timedelta(days=1), datetime.min.time(), at.tzinfo)
            if last
            else None,
            "key": self.cleaned_data["key"],
        }
        if owner := self.owners.get(self.cleaned_data["owner"]):
            organisation, role = owner
            return make_organisation_key(by=by, at=at, organisation=organisation, role=role, **said)
        return make_key(by=by, at=at, **said)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@surely
def keys(request: HttpRequest) -> HttpResponse:
    """Show the keys somebody looks after, and make one more; its secret is shown this once."""
    by, at = person_of(request), timezone.now()
    form = KeyForm(request.POST if request.method == "POST" else None, by=by)
    made, token = None, ""
    if request.method == "POST" and form.is_valid():
        try:
            made, token = form.make(by, at)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            form = KeyForm(by=by)
    listed = [shown(key, at) for key in keys_for(by)]
    context = {
        "form": form,
        "made": made,
        "token": token,
        "standing": [one for one in listed if not one.is_over],
        "over": [one for one in listed if one.is_over],
    }
    return render(request, "pages/keys.html", context, status=422 if form.errors else 200)


@require_POST
def revoke(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """End a key at once."""
    by = person_of(request)
    key = keys_for(by).filter(pk=pk).first()
    if key is None:
        raise NotFound("There is no such key here for you: look at the list of your keys.")
    revoke_key(by=by, at=timezone.now(), api_key=key)
    messages.success(request, f"The key “{key.name}” is revoked: nothing gets in with it any more.")
    return redirect("keys")


def owners_for(by: Person) -> dict[str, tuple[Organisation, str]]:
    """Return the organisations and roles somebody may make keys for, under the value each has in the form."""
    return {
        f"{organisation.pk}:{role}": (organisation, role)
        for organisation in organisations(by, Right.MANAGE_KEYS).order_by("name")
        for role in roles_for_keys(by, organisation)
    }


def acts_for(organisation: Organisation, role: str) -> str:
    """Return in words whom an organisation's key acts for."""
    return f"{organisation.name}, as {Role(role).label.lower()}"


def shown(key: ApiKey, at: datetime) -> Listed:
    """Return a key with its scopes in words and the last day it works."""
    if key.organisation is None:
        acts_as = "you"
    else:
        roles = [member.role for member in key.person.memberships.all()]
        acts_as = ", ".join(acts_for(key.organisation, role) for role in roles) or key.organisation.name
    end = key.expires_at
    return Listed(
        key=key,
        acts_as=acts_as,
        opens=[scope.label for scope in Scope if scope in key.scopes],
        last_day=(end - timedelta(microseconds=1)).date() if end else None,
        is_over=key.revoked_at is not None or (end is not None and end <= at),
    )
