"""What a person sees when a page cannot be shown: the sentence of the refusal in the look of the other pages."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.csrf import requires_csrf_token

from fleet.contention import Busy, gave_way
from fleet.errors import Kind, Refusal
from fleet.pages.refusing import REFUSED

STATUS: Final = {
    Kind.INVALID: HTTPStatus.UNPROCESSABLE_ENTITY,
    Kind.CONFLICT: HTTPStatus.CONFLICT,
    Kind.FORBIDDEN: HTTPStatus.FORBIDDEN,
    Kind.MISSING: HTTPStatus.NOT_FOUND,
    Kind.BUSY: HTTPStatus.SERVICE_UNAVAILABLE,
}
TITLES: Final = {
    Kind.INVALID: "That cannot be right",
    Kind.CONFLICT: "That does not go now",
    Kind.FORBIDDEN: "Your role does not include this",
    Kind.MISSING: "Nothing here for you",
    Kind.BUSY: "Too much at once",
}


class RefusalPages:
    """Turns a refusal that no form caught into its page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request as the rest of the service does."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the page of a refusal, or nothing for any other exception."""
        if gave_way(exception):
            exception = Busy()
        if not isinstance(exception, Refusal):
            return None
        return _page(request, TITLES[exception.kind], exception.sentence, STATUS[exception.kind])


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001 - Django's signature
    """Answer an address that leads nowhere."""
    return _page(
        request,
        TITLES[Kind.MISSING],
        "This address leads nowhere, or to something that is not yours to see: check it, or start from your own page.",
        HTTPStatus.NOT_FOUND,
    )


@requires_csrf_token
def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001 - Django's signature
    """Answer somebody whose role is too small."""
    return _page(
        request,
        TITLES[Kind.FORBIDDEN],
        "Ask somebody in your organisation who may, or start from your own page.",
        HTTPStatus.FORBIDDEN,
    )


@requires_csrf_token
def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001 - Django's signature
    """Answer a request that cannot be read."""
    return _page(
        request,
        TITLES[Kind.INVALID],
        "The browser sent something that cannot be read: open the page again and enter it once more.",
        HTTPStatus.BAD_REQUEST,
    )


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001 - Django's signature
    """Answer a form whose protection ran out, which happens after signing in again in another tab."""
    return _page(
        request,
        "This form is too old",
        "Nothing was stored. You signed in again since it was opened, or the browser keeps no cookies here: go back, "
        "load the page once more, and send it again.",
        HTTPStatus.FORBIDDEN,
    )


@requires_csrf_token
def broken(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - nothing of the request is trusted here
    """Answer after an error of the service itself, without asking the database."""
    return HttpResponse(render_to_string("pages/broken.html"), status=HTTPStatus.INTERNAL_SERVER_ERROR)


def _page(request: HttpRequest, title: str, sentence: str, status: HTTPStatus) -> HttpResponse:
    request.META[REFUSED] = [("", sentence)]
    return render(request, "pages/error.html", {"title": title, "sentence": sentence}, status=status)
