"""Marks of what a row looked like (RFC 9110, section 8.8.3): nothing is sent twice, and nobody undoes what they did not see."""

from hashlib import sha256
from http import HTTPStatus
from typing import Any, Final

from django.utils.http import parse_etags
from rest_framework.exceptions import APIException
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

DIGITS: Final = 32


class NoIfMatch(APIException):
    """A change that does not say which state it rests on (RFC 6585, section 3)."""

    status_code = HTTPStatus.PRECONDITION_REQUIRED
    default_detail = "Read the row first, and send its ETag in the header If-Match."


class ChangedSince(APIException):
    """A change that rests on a state that is over (RFC 9110, section 15.5.13)."""

    status_code = HTTPStatus.PRECONDITION_FAILED
    default_detail = "Somebody changed this in the meantime: read it again, and decide again."


def etag_of(shown: Any) -> str:
    """Return the mark of a row as it is shown to one person."""
    return f'"{sha256(JSONRenderer().render(shown)).hexdigest()[:DIGITS]}"'


def is_known(request: Request, etag: str) -> bool:
    """Return whether the asker holds this very state already (If-None-Match)."""
    held = parse_etags(request.headers.get("If-None-Match", ""))
    return "*" in held or etag in {one.removeprefix("W/") for one in held}


def require_match(request: Request, etag: str) -> None:
    """Refuse a change that does not rest on this state (If-Match; a weak mark never matches)."""
    given = request.headers.get("If-Match")
    if given is None:
        raise NoIfMatch
    held = parse_etags(given)
    if "*" not in held and etag not in held:
        raise ChangedSince
