"""Signing in with an e-mail address, and choosing the units one reads."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleet.accounts.actions import choose_units
from fleet.accounts.models import Person
from fleet.errors import Refusal
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm


class SignInForm(PlainForm, AuthenticationForm):
    """E-mail address and password; a wrong pair is refused without saying which of the two was wrong."""

    username = forms.EmailField(
        label="E-mail address",
        widget=forms.EmailInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
        error_messages={"invalid": "This is no e-mail address: give one such as robin@example.org."},
    )
    password = forms.CharField(
        label="Password", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "E-mail address"
        self.fields["username"].error_messages["required"] = "E-mail address is missing: fill it in."

    def clean_username(self) -> str:
        """Return the address as it is stored."""
        return str(self.cleaned_data["username"]).lower()

    def get_invalid_login_error(self) -> ValidationError:
        """Return what a wrong pair is told."""
        return ValidationError(
            "No account has this e-mail address with this password: check both, the password letter by letter."
        )


@method_decorator(never_cache, name="dispatch")
class SignIn(LoginView):
    """The sign-in page."""

    template_name = "pages/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class UnitsForm(PlainForm):
    """One choice for each quantity."""

    pressure_unit = forms.ChoiceField(
        label="Pressure", choices=Person.PressureUnit.choices, widget=forms.RadioSelect
    )
    temperature_unit = forms.ChoiceField(
        label="Temperature", choices=Person.TemperatureUnit.choices, widget=forms.RadioSelect
    )
    depth_unit = forms.ChoiceField(
        label="Tread depth", choices=Person.DepthUnit.choices, widget=forms.RadioSelect
    )
    distance_unit = forms.ChoiceField(
        label="Distance", choices=Person.DistanceUnit.choices, widget=forms.RadioSelect
    )


@require_http_methods(["GET", "POST"])
def units(request: HttpRequest) -> HttpResponse:
    """Show and change the units a person reads."""
    person = person_of(request)
    form = UnitsForm(
        request.POST or None, initial={name: getattr(person, name) for name in UnitsForm.base_fields}
    )
    if request.method == "POST" and form.is_valid():
        try:
            choose_units(by=person, **form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "Your units are kept.")
            return redirect("home")
    return render(request, "pages/units.html", {"form": form}, status=422 if form.errors else 200)
