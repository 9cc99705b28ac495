"""Who asks: a program with a key, or somebody signed in on the pages, by the same session."""

from typing import Final

from django.conf import settings
from django.utils import timezone
from rest_framework import authentication
from rest_framework.exceptions import AuthenticationFailed, PermissionDenied
from rest_framework.request import Request

from fleet.accounts.actions import use_key
from fleet.accounts.models import ApiKey, Person
from fleet.accounts.queries import lacks_second_factor

SCHEME: Final = "bearer"


class KeyAuthentication(authentication.BaseAuthentication):
    """A key in the header of the request (RFC 6750, section 2.1); no cookie is looked at, so no CSRF token is needed.

    A key that does not work is refused even beside a session that would: whoever sends it means it.
    """

    def authenticate(self, request: Request) -> tuple[Person, ApiKey] | None:
        """Return whom the key acts as, and the key."""
        scheme, _, token = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")
        if scheme.lower() != SCHEME:
            return None
        key = use_key(token=token.strip(" "), at=timezone.now())
        if key is None or (settings.STAFF_SECOND_FACTOR and lacks_second_factor(key.made_by)):
            raise AuthenticationFailed(
                "This key does not work: it may be mistyped, revoked or past its end, or its maker lacks the second "
                "factor a role needs. Send Authorization: Bearer and "
                "the whole key, or make a new one on the page of API keys.",
                code="key-refused",
            )
        key.person.used_key = key
        return key.person, key

    def authenticate_header(self, request: Request) -> str:
        """Return the challenge of a 401 answer; a reason stands in it only where a key was sent (section 3.1)."""
        scheme = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")[0].lower()
        return 'Bearer realm="api"' + (', error="invalid_token"' if scheme == SCHEME else "")


class SessionAuthentication(authentication.SessionAuthentication):
    """The session of the pages; every write carries its CSRF token."""

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
