"""Who asks: somebody signed in on the pages, by the same session."""

from rest_framework import authentication
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request


class SessionAuthentication(authentication.SessionAuthentication):
    """The session of the pages; every write carries its CSRF token, and a request by nobody is answered with 401."""

    def authenticate_header(self, request: Request) -> str:  # noqa: ARG002 - the framework fixes the signature
        """Return the challenge of a 401 answer."""
        return 'Session realm="api"'

    def enforce_csrf(self, request: Request) -> None:
        """Refuse a write without the CSRF token of the session."""
        try:
            super().enforce_csrf(request)
        except PermissionDenied as error:
            raise PermissionDenied(
                "The CSRF token is missing or wrong: send the value of the cookie csrftoken in the header "
                "X-CSRFToken.",
                code="csrf-failed",
            ) from error
