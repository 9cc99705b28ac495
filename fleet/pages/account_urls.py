"""Addresses of signing in and of the account: the accounts library's views with our forms and pages.

The library finds its way by names of its own (``account_...``); what has no address here cannot be reached.
"""

from typing import Any, Final

from allauth.account import views as library
from allauth.mfa.base import views as mfa
from allauth.mfa.recovery_codes import views as recovery
from allauth.mfa.totp import views as totp
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LogoutView
from django.db import transaction
from django.urls import path
from django.views.decorators.cache import never_cache

import fleet.pages.account_trail  # noqa: F401 -- its receivers listen from here on
from fleet.pages import account, address, invitations, own_data, people, second_factor, telling, visits
from fleet.pages import sign_in as forms

CODE_SENT: Final = (
    "A code is on its way, if the address is right. It holds for fifteen minutes; keep this page open."
)
FORM: Final = "pages/account_form.html"


def words(title: str, button: str, lead: str = "") -> dict[str, Any]:
    """Return what stands around the form of a page."""
    return {"template_name": FORM, "extra_context": {"title": title, "button": button, "lead": lead}}


sign_in = library.LoginView.as_view(form_class=forms.SignInForm, template_name="pages/sign_in.html")
sign_up = library.SignupView.as_view(form_class=forms.SignUpForm, template_name="pages/sign_up.html")
sign_out = LogoutView.as_view()
closed = library.AccountInactiveView.as_view(template_name="pages/account_closed.html")
ask_code = library.RequestLoginCodeView.as_view(
    form_class=forms.AskCodeForm,
    **words(
        "Sign in by code", "Send the code", "Instead of a password: a code comes to your e-mail address."
    ),
)
enter_code = library.ConfirmLoginCodeView.as_view(
    form_class=forms.EnterCodeForm, **words("Enter the code", "Sign in", CODE_SENT)
)
confirm_address = login_not_required(
    transaction.atomic(
        library.ConfirmEmailVerificationCodeView.as_view(
            form_class=forms.ConfirmAddressForm, **words("Confirm your address", "Confirm", CODE_SENT)
        )
    )
)
ask_reset = library.PasswordResetView.as_view(
    form_class=forms.AskResetForm,
    **words(
        "New password",
        "Send the code",
        "A code comes to your e-mail address; with it you choose a new password.",
    ),
)
enter_reset_code = library.ConfirmPasswordResetCodeView.as_view(
    form_class=forms.EnterResetCodeForm, **words("Enter the code", "Go on", CODE_SENT)
)
reset_password = library.CompletePasswordResetView.as_view(
    form_class=forms.ResetPasswordForm, **words("Choose a new password", "Keep this password")
)
password_kept = library.PasswordResetFromKeyDoneView.as_view(template_name="pages/password_kept.html")
change_password = library.PasswordChangeView.as_view(
    form_class=forms.ChangePasswordForm, **words("Change your password", "Keep this password")
)
first_password = library.PasswordSetView.as_view(
    form_class=forms.SetPasswordForm,
    **words(
        "Choose a password",
        "Keep this password",
        "So far you sign in by a code. With a password you can do both.",
    ),
)
again = library.ReauthenticateView.as_view(
    form_class=forms.AgainForm,
    **words(
        "Is it still you?",
        "Go on",
        "Before anything that protects your account changes, give your password once more.",
    ),
)
ask_code_again = library.RequestReauthenticationCodeView.as_view(
    form_class=forms.AskAgainForm,
    **words(
        "Is it still you?",
        "Send the code",
        "Before anything that protects your account changes, a code comes to your e-mail address.",
    ),
)
enter_code_again = library.ConfirmReauthenticationCodeView.as_view(
    form_class=forms.EnterAgainForm, **words("Enter the code", "Go on", CODE_SENT)
)
change_address = address.ChangeAddress.as_view(
    **words(
        "Change your e-mail address",
        "Send the code",
        "A code goes to the new address; once you typed it here, you sign in with the new address only.",
    ),
)
give_code = mfa.AuthenticateView.as_view(
    form_class=second_factor.CodeForm,
    **words(
        "Second factor",
        "Sign in",
        "Type the code your authenticator app shows. Without the app, one of your recovery codes.",
    ),
)
give_code_again = mfa.ReauthenticateView.as_view(
    form_class=second_factor.CodeAgainForm,
    **words(
        "Is it still you?",
        "Go on",
        "Type the code your authenticator app shows, or one of your recovery codes.",
    ),
)
activate = second_factor.Activate.as_view(
    form_class=second_factor.ActivateForm, template_name="pages/second_factor.html"
)
deactivate = totp.DeactivateTOTPView.as_view(
    form_class=second_factor.DeactivateForm,
    **words(
        "Give up the second factor?",
        "Give it up",
        "From then on a password or a code by e-mail alone lets you in. The recovery codes end too.",
    ),
)
recovery_codes = never_cache(
    recovery.ViewRecoveryCodesView.as_view(template_name="pages/recovery_codes.html")
)
new_recovery_codes = recovery.GenerateRecoveryCodesView.as_view(
    form_class=second_factor.NewCodesForm,
    **words("New recovery codes?", "Make new ones", "The codes you have stop working at once."),
)

urlpatterns = [
    path("sign-in/", sign_in, name="sign-in"),
    path("sign-in/", sign_in, name="account_login"),
    path("sign-in/code/", ask_code, name="account_request_login_code"),
    path("sign-in/code/enter/", enter_code, name="account_confirm_login_code"),
    path("sign-in/closed/", closed, name="account_inactive"),
    path("sign-out/", sign_out, name="sign-out"),
    path("sign-out/", sign_out, name="account_logout"),
    path("sign-up/", sign_up, name="account_signup"),
    path("sign-up/confirm/", confirm_address, name="account_email_verification_sent"),
    path("password/", ask_reset, name="account_reset_password"),
    path("password/code/", enter_reset_code, name="account_confirm_password_reset_code"),
    path("password/new/", reset_password, name="account_complete_password_reset"),
    path("password/kept/", password_kept, name="account_password_reset_completed"),
    path("account/", account.account, name="account"),
    path("account/", account.account, name="account_email"),
    path("account/password/", change_password, name="account_change_password"),
    path("account/password/first/", first_password, name="account_set_password"),
    path("account/address/", change_address, name="change-address"),
    path("account/again/", again, name="account_reauthenticate"),
    path("account/", account.account, name="mfa_index"),
    path("sign-in/second/", give_code, name="mfa_authenticate"),
    path("account/again/e-mail/", ask_code_again, name="account_request_reauthentication_code"),
    path("account/again/e-mail/code/", enter_code_again, name="account_confirm_reauthentication_code"),
    path("account/again/code/", give_code_again, name="mfa_reauthenticate"),
    path("account/second/", activate, name="mfa_activate_totp"),
    path("account/second/end/", deactivate, name="mfa_deactivate_totp"),
    path("account/second/codes/", recovery_codes, name="mfa_view_recovery_codes"),
    path("account/second/codes/new/", new_recovery_codes, name="mfa_generate_recovery_codes"),
    path("account/telling/", telling.telling, name="telling"),
    path("account/telling/read/", telling.all_read, name="all-read"),
    path("account/visits/", visits.visits, name="visits"),
    path("account/visits/end/", visits.end, name="end-visits"),
    path("account/data/", own_data.own_data, name="own-data"),
    path("account/data/take-out/", own_data.archive, name="take-out"),
    path("account/data/erase/", own_data.end, name="erase"),
    path("invitations/", invitations.invitations, name="invitations"),
    path("invitations/<uuid:pk>/revoke/", invitations.revoke, name="revoke-invitation"),
    path("invitation/<str:token>/", invitations.claim, name="claim"),
    path("account/people/", people.people, name="people"),
    path("account/people/<uuid:pk>/end/", people.end, name="end-role"),
    path("account/people/offers/<uuid:pk>/withdraw/", people.withdraw, name="withdraw-offer"),
    path("role/<str:token>/", people.take, name="take-role"),
    path("garage/begin/", account.begin_garage, name="begin-garage"),
    path("units/", account.units, name="units"),
]
