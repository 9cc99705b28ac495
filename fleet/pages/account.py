"""A person's account: how they sign in, and the units they read."""

from allauth.mfa.utils import is_mfa_enabled
from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.accounts.actions import choose_units
from fleet.accounts.models import Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import Refusal
from fleet.garage.actions import open_garage
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm


@require_safe
def account(request: HttpRequest) -> HttpResponse:
    """Show how a person signs in, and where each part is changed."""
    person = person_of(request)
    context = {
        "person": person,
        "may_invite": organisations(person, Right.INVITE).exists(),
        "works_here": person.memberships.exists(),
        "has_second_factor": is_mfa_enabled(person),
    }
    return render(request, "pages/account.html", context)


@require_POST
def begin_garage(request: HttpRequest) -> HttpResponse:
    """Begin a garage for somebody who works here, or came by an invitation that was over."""
    open_garage(by=person_of(request))
    return redirect("garage")


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
