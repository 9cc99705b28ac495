"""What holds for every request before any page is asked: it can be read, and what was shown to a person is not kept."""

from collections.abc import Callable
from typing import Final, TypeAlias

from django.conf import settings
from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest, HttpResponse

GetResponse: TypeAlias = Callable[[HttpRequest], HttpResponse]
FORMS: Final = {"multipart/form-data", "application/x-www-form-urlencoded"}


class NothingKept:
    """Forbids caches, the browser's own too, to keep what was answered within a session."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Return the answer, marked unless its page says something of its own (RFC 9111, section 5.2.2)."""
        response = self.get_response(request)
        if settings.SESSION_COOKIE_NAME in request.COOKIES and not response.has_header("Cache-Control"):
            response["Cache-Control"] = "private, no-store"
        return response


class OnlyReadable:
    """Refuses forms in another character set than UTF-8, and addresses with a NUL, which no database compares."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Return the answer to a request that can be read."""
        if "\x00" in request.path_info:
            raise Http404
        charset = (request.content_params or {}).get("charset", "utf-8")
        if request.content_type in FORMS and charset.lower() not in {"utf-8", "utf8"}:
            request.encoding = "utf-8"  # the page of the refusal reads the form again, for its token
            raise BadRequest(f"A form in {charset}: send it in UTF-8.")
        return self.get_response(request)
