"""Changing the e-mail address one signs in with."""

from typing import Any

from allauth.account.decorators import reauthentication_required
from allauth.account.views import EmailView
from django.http import HttpRequest, HttpResponse
from django.utils.decorators import method_decorator
from django.views.generic.edit import FormView

from fleet.pages.sign_in import ChangeAddressForm


@method_decorator(reauthentication_required(app="allauth.account"), name="dispatch")
class ChangeAddress(EmailView):
    """Ask for the new address and send a code there; the old one holds until the code came back, and is told then."""

    form_class = ChangeAddressForm

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Take the one form there is; of the library's other ways with addresses none is open."""
        return FormView.post(self, request, *args, **kwargs)
