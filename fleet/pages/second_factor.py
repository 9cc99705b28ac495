"""The second factor: forms and views of the accounts library in our look, and the rule that people with a role have one."""

import base64
from collections.abc import Callable
from typing import Any, Final

from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.base import forms as base_forms
from allauth.mfa.recovery_codes import forms as recovery_forms
from allauth.mfa.totp import forms as totp_forms
from allauth.mfa.totp.views import ActivateTOTPView
from allauth.usersessions.internal.flows.sessions import end_other_sessions
from cryptography.fernet import Fernet
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.crypto import salted_hmac

from fleet.accounts.models import Person
from fleet.accounts.queries import lacks_second_factor
from fleet.pages.asking import person_of
from fleet.pages.sign_in import EntranceForm

OPEN_WITHOUT: Final = {
    "sign-out",
    "account",
    "account_reauthenticate",
    "account_request_reauthentication_code",
    "account_confirm_reauthentication_code",
    "account_change_password",
    "account_set_password",
    "mfa_activate_totp",
    "mfa_reauthenticate",
}
"""What somebody without the second factor they need may still open: what it takes to get one."""


class SecondFactorRules(DefaultMFAAdapter):
    """The library's way with second factors, in our words, its secrets encrypted with the key of the service."""

    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": "This code is not right, or was used: wait for the next one and type that.",
        "unverified_email": "Confirm your e-mail address first: sign out and in again.",
    }

    def get_totp_issuer(self) -> str:
        """Return the name an authenticator app shows."""
        return "Track-day tires"

    def encrypt(self, text: str) -> str:
        """Return what is stored of a secret."""
        return _cipher().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        """Return a stored secret."""
        return _cipher().decrypt(encrypted_text.encode()).decode()


class CodeForm(EntranceForm, base_forms.AuthenticateForm):
    """The code of the app, or a recovery code, when signing in."""


class CodeAgainForm(EntranceForm, base_forms.ReauthenticateForm):
    """The code of the app, or a recovery code, before something that protects the account is changed."""


class ActivateForm(EntranceForm, totp_forms.ActivateTOTPForm):
    """The first code an authenticator app shows."""


class DeactivateForm(EntranceForm, totp_forms.DeactivateTOTPForm):
    """Nothing to fill in."""


class NewCodesForm(EntranceForm, recovery_forms.GenerateRecoveryCodesForm):
    """Nothing to fill in."""


class Activate(ActivateTOTPView):
    """Begin to ask for a second factor; visits that began without one end."""

    def form_valid(self, form: Any) -> HttpResponse:
        """Return the way to the recovery codes."""
        response: HttpResponse = super().form_valid(form)
        end_other_sessions(self.request, person_of(self.request))
        return response


class StaffSecondFactor:
    """Lets nobody with a role work without a second factor: pages lead to it, the API sees nobody signed in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request as the rest of the service does."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, *_args: Any) -> HttpResponse | None:
        """Return the way to a second factor for somebody who needs one and has none."""
        match = request.resolver_match
        is_open = not getattr(view, "login_required", True) or (match and match.url_name in OPEN_WITHOUT)
        is_api = request.path_info.startswith("/api/")
        if not settings.STAFF_SECOND_FACTOR or (is_open and not is_api):
            return None
        if not isinstance(request.user, Person) or not lacks_second_factor(request.user):
            return None
        if is_api:
            request.user = AnonymousUser()
            return None
        return redirect("mfa_activate_totp")


def _cipher() -> Fernet:
    digest = salted_hmac("fleet.pages.second_factor", "secrets", algorithm="sha256").digest()
    return Fernet(base64.urlsafe_b64encode(digest))
