"""What the accounts library asks of this service: what it says, what it counts, and how it stores a new person."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.models import EmailAddress
from django.contrib.auth.base_user import AbstractBaseUser
from django.forms import BaseForm
from django.http import HttpRequest
from django.urls import reverse

from fleet.accounts.actions import sign_up
from fleet.accounts.models import Person
from fleet.garage.actions import open_garage

INVITED = "invited"
"""The mark in a visit that came by an invitation."""


class AccountRules(DefaultAccountAdapter):
    """The library's way of signing in and up, in our words and with our writes."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": "No account has this e-mail address with this password: check both, the password "
        "letter by letter.",
        "incorrect_code": "This is not the code that was sent last: type it as it stands in the message.",
        "incorrect_password": "This is not your password: check it letter by letter.",
        "enter_current_password": "This is not your present password: check it letter by letter.",
        "too_many_login_attempts": "Too many tries from here in a short time: wait five minutes, then try again.",
        "duplicate_email": "This is your address already: give the new one.",
        "rate_limited": "A message went out a moment ago: look for it, or ask again in a minute.",
    }

    def save_user(  # the library's signature
        self,
        request: HttpRequest,  # noqa: ARG002
        user: AbstractBaseUser,  # noqa: ARG002
        form: BaseForm,
        commit: bool = True,  # noqa: ARG002, FBT001, FBT002
    ) -> Person:
        """Return the stored person; the library passes an empty one, which is left alone."""
        told = form.cleaned_data
        return sign_up(email=told["email"], name=told["name"], password=told["password1"])

    def confirm_email(self, request: HttpRequest, email_address: EmailAddress) -> bool:
        """Return whether the address is confirmed now; with a first one begins a garage, unless an invitation brings one."""
        is_first = not request.user.is_authenticated
        confirmed = super().confirm_email(request, email_address)
        if confirmed and is_first and not request.session.get(INVITED):
            open_garage(by=email_address.user)
        return confirmed

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:  # noqa: ARG002 -- the library's signature
        """Return where a changed password leads."""
        return reverse("account")

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """Return what failed tries are counted by: the account and where they come from.

        By the account alone anybody could lock somebody out by guessing wrong on purpose.
        """
        by_account = super()._get_login_attempts_cache_key(request, **credentials)
        return f"{self.get_client_ip(request)}:{by_account}"
