"""Forms for getting in: password or code by e-mail, a new account, a new password."""

from typing import Any, Final

from allauth.account import forms as allauth
from django import forms
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.hashers import make_password
from django.http import HttpRequest, HttpResponse

from fleet.pages.forms import PlainForm

PASSWORD_RULE: Final = "At least 10 characters, and none of the common passwords."  # noqa: S105 -- a sentence
LABELS: Final = {
    "login": "E-mail address",
    "email": "E-mail address",
    "oldpassword": "Present password",
    "code": "Code",
    "recipient": "Send it to",
}
WORDS: Final = {
    "login": {"autocomplete": "username", "autocapitalize": "none"},
    "code": {"autocomplete": "one-time-code", "autocapitalize": "characters", "spellcheck": "false"},
}
NO_ADDRESS: Final = "This is no e-mail address: give one such as robin@example.org."


class EntranceForm(PlainForm):
    """A form of the accounts library in the words and the look of the other pages."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.label = LABELS.get(name, field.label)
            field.help_text = ""
            field.widget.attrs.pop("placeholder", None)
            field.widget.attrs.update(WORDS.get(name, {}))
            if isinstance(field, forms.EmailField):
                field.error_messages["invalid"] = NO_ADDRESS
        self.take(**self.fields)

    def ask_new_password(self, label: str) -> None:
        """Name the field of a new password, and say what one has to be."""
        self.fields["password1"].label = label
        self.fields["password1"].help_text = PASSWORD_RULE
        if "password2" in self.fields:
            self.fields["password2"].label = f"{label}, once more"
        self.take(**self.fields)


class SignInForm(EntranceForm, allauth.LoginForm):
    """E-mail address and password; a wrong pair is refused without saying which of the two was wrong."""


class AskCodeForm(EntranceForm, allauth.RequestLoginCodeForm):
    """The address a code is sent to; whether it has an account is told only by that message."""


class EnterCodeForm(EntranceForm, allauth.ConfirmLoginCodeForm):
    """The code that came by e-mail, to sign in."""


class ConfirmAddressForm(EntranceForm, allauth.ConfirmEmailVerificationCodeForm):
    """The code that came by e-mail, to show that the address is one's own."""


class SignUpForm(EntranceForm, allauth.SignupForm):  # type: ignore[misc]  # two answers of clean()
    """A new account."""

    name = forms.CharField(
        label="Name", max_length=100, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    field_order = ("name", "email", "password1")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_new_password("Password")

    def try_save(self, request: HttpRequest) -> tuple[AbstractBaseUser | None, HttpResponse | None]:
        """Store the account, or write to whoever has the address already, in the same time.

        A password is hashed slowly on purpose: an answer without that would tell which addresses have accounts.
        """
        if self.account_already_exists:
            make_password(self.cleaned_data["password1"])
        saved: tuple[AbstractBaseUser | None, HttpResponse | None] = super().try_save(request)
        return saved


class AskResetForm(EntranceForm, allauth.ResetPasswordForm):
    """The address a code for a new password is sent to."""


class EnterResetCodeForm(EntranceForm, allauth.ConfirmPasswordResetCodeForm):
    """The code that came by e-mail, to choose a new password."""


class ResetPasswordForm(EntranceForm, allauth.ResetPasswordKeyForm):
    """The new password after the code."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_new_password("New password")


class ChangePasswordForm(EntranceForm, allauth.ChangePasswordForm):
    """The present password and a new one."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_new_password("New password")


class SetPasswordForm(EntranceForm, allauth.SetPasswordForm):
    """The first password of somebody who signed in by code so far."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_new_password("Password")


class AskAgainForm(EntranceForm, allauth.RequestReauthenticationCodeForm):
    """Which of one's own addresses the code goes to."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["recipient"]
        field.widget = forms.RadioSelect(choices=field.choices)  # type: ignore[attr-defined]
        field.initial = next((address for address, _ in field.choices), None)  # type: ignore[attr-defined]


class EnterAgainForm(EntranceForm, allauth.ConfirmReauthenticationCodeForm):
    """The code that came by e-mail, before something that protects the account is changed."""


class ChangeAddressForm(EntranceForm, allauth.AddEmailForm):
    """The address that is to take the place of the present one, once a code sent there came back."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["email"].label = "New e-mail address"
        self.take(**self.fields)


class AgainForm(EntranceForm, allauth.ReauthenticateForm):
    """The password once more, before something that protects the account is changed."""
