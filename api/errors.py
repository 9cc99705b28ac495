"""The one shape of every refusal: problem details (RFC 9457) with a stable code, a sentence, and errors by field."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any, Final

from django.conf import settings
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.settings import api_settings

from api.forms import UNREADABLE, is_unreadable
from api.units import Chosen, spoken
from fleet.contention import Busy, gave_way
from fleet.errors import Kind, NotAllowed, NotFound, Refusal

MEDIA_TYPE: Final = "application/problem+json"
REFUSED: Final = (Refusal, exceptions.APIException, Http404, PermissionDenied)
BUSY_S: Final = 2
PROBLEMS_ADDRESS: Final = "/api/v1/problems"
STATUS_OF: Final = {
    Kind.INVALID: HTTPStatus.UNPROCESSABLE_ENTITY,
    Kind.CONFLICT: HTTPStatus.CONFLICT,
    Kind.FORBIDDEN: HTTPStatus.FORBIDDEN,
    Kind.MISSING: HTTPStatus.NOT_FOUND,
    Kind.BUSY: HTTPStatus.SERVICE_UNAVAILABLE,
}
# What the transport refuses before the domain is asked: code, status, title.
OF_THE_TRANSPORT: Final = (
    ("malformed", HTTPStatus.BAD_REQUEST, "A body that is not readable."),
    ("not-signed-in", HTTPStatus.UNAUTHORIZED, "A request by nobody the service knows."),
    ("key-refused", HTTPStatus.UNAUTHORIZED, "A key that does not work, or not any more."),
    ("csrf-failed", HTTPStatus.FORBIDDEN, "A write without the CSRF token of the session."),
    ("method-not-allowed", HTTPStatus.METHOD_NOT_ALLOWED, "A method this address does not have."),
    (
        "not-acceptable",
        HTTPStatus.NOT_ACCEPTABLE,
        "An answer wanted in another form than this address gives.",
    ),
    ("changed-since", HTTPStatus.PRECONDITION_FAILED, "A change that rests on a state that is over."),
    (
        "if-match-required",
        HTTPStatus.PRECONDITION_REQUIRED,
        "A change that does not say which state it rests on.",
    ),
    ("too-many-requests", HTTPStatus.TOO_MANY_REQUESTS, "More requests in a minute than the limit."),
    (
        "unsupported-media-type",
        HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
        "A body in another form than this address takes.",
    ),
)
# Codes that the transport's exceptions carry themselves; any other follows from the status.
_CARRIED: Final = {"key-refused", "csrf-failed"}
_TITLES: Final = {code: title for code, _status, title in OF_THE_TRANSPORT}
_NOT_YOURS: Final = "You may read this, and not do that with it: it is for its owner, or for a role at the organisation that has it."
_MISSING: Final = "There is nothing like that here for you: check the address, or ask for access."


@dataclass(frozen=True)
class Problem:
    """One refusal as it is sent."""

    code: str
    status: int
    title: str
    detail: str
    errors: dict[str, list[str]] = field(default_factory=dict)

    def body(self) -> dict[str, Any]:
        """Return the members in the order of RFC 9457, section 3.1, then the two of this service."""
        return {
            "type": f"{PROBLEMS_ADDRESS}#{self.code}",
            "title": self.title,
            "status": self.status,
            "detail": self.detail,
            "code": self.code,
            "errors": self.errors,
        }


def problem(exc: Exception, context: dict[str, Any]) -> Response | None:
    """Return the answer to a refusal; anything else is a fault of the service and stays one."""
    if isinstance(exc, RequestDataTooBig):
        most_mb = (settings.DATA_UPLOAD_MAX_MEMORY_SIZE or 0) // 1024**2
        exc = exceptions.ParseError(f"The body is too large: send at most {most_mb} MB at once.")
    elif is_unreadable(exc):
        exc = exceptions.ParseError(UNREADABLE)
    said = described(exc, getattr(context.get("view"), "chosen", {}))
    if said is None:
        return None
    return Response(
        said.body(), status=said.status, content_type=MEDIA_TYPE, headers=dict(_headers(exc, said))
    )


def refusals(kind: type[Refusal] = Refusal) -> Iterator[type[Refusal]]:
    """Return every kind of refusal of the domain that has a code of its own."""
    for below in kind.__subclasses__():
        yield below
        yield from refusals(below)


def title_of(kind: type[Refusal]) -> str:
    """Return what a kind of refusal means in general: the first line of its docstring."""
    return (kind.__doc__ or kind.code).strip().splitlines()[0]


def described(exc: Exception, units: Chosen) -> Problem | None:
    """Return a refusal as it is sent, fields under the names the units chosen give them; nothing for what is none."""
    if gave_way(exc):
        exc = Busy()
    if isinstance(exc, NotFound):
        # What an address or a body names was found among what the asker may see: the right is what an action misses.
        exc = NotAllowed(_NOT_YOURS)
    if isinstance(exc, Refusal):
        errors = {spoken(exc.field, units): [exc.sentence]} if exc.field else {}
        return Problem(exc.code, STATUS_OF[exc.kind], title_of(type(exc)), exc.sentence, errors)
    if isinstance(exc, exceptions.ValidationError):
        return _invalid(exc)
    if isinstance(exc, Http404 | exceptions.NotFound):
        return Problem(NotFound.code, HTTPStatus.NOT_FOUND, title_of(NotFound), _MISSING)
    if isinstance(exc, PermissionDenied):
        return Problem("not-allowed", HTTPStatus.FORBIDDEN, _title("not-allowed"), "This is not open to you.")
    if isinstance(exc, exceptions.APIException):
        return _of_the_transport(exc)
    return None


def _headers(exc: Exception, said: Problem) -> Iterator[tuple[str, str]]:
    if challenge := getattr(exc, "auth_header", None):
        yield "WWW-Authenticate", challenge
    if isinstance(exc, exceptions.Throttled):
        yield "Retry-After", str(_seconds(exc))
    elif said.status == HTTPStatus.SERVICE_UNAVAILABLE:
        yield "Retry-After", str(BUSY_S)


def _seconds(exc: exceptions.APIException) -> int:
    return max(1, math.ceil(getattr(exc, "wait", None) or 0))


def _of_the_transport(exc: exceptions.APIException) -> Problem:
    codes = {status: code for code, status, _ in OF_THE_TRANSPORT if code not in _CARRIED}
    given = exc.get_codes()
    code = (
        given
        if isinstance(given, str) and given in _CARRIED
        else codes.get(HTTPStatus(exc.status_code), "not-allowed")
    )
    sentences = {
        "not-signed-in": "Nobody is signed in: send Authorization: Bearer and an API key, or sign in on the pages "
        "and send the session cookie.",
        "too-many-requests": f"More than {settings.API_REQUESTS_PER_MINUTE} requests in one minute: wait "
        f"{_seconds(exc)} seconds, and send many facts as one batch.",
        "not-acceptable": "Answers are JSON, and photos PNG: accept application/json, or image/png for a photo.",
        "unsupported-media-type": "Bodies are JSON: send Content-Type: application/json; only a fact that takes a photo may come as multipart/form-data.",
    }
    return Problem(str(code), exc.status_code, _title(str(code)), sentences.get(str(code), str(exc.detail)))


def _title(code: str) -> str:
    return _TITLES.get(code, "A request by somebody whose role is too small.")


def _invalid(exc: exceptions.ValidationError) -> Problem:
    errors = dict(_flat(exc.detail))
    whole = errors.pop(api_settings.NON_FIELD_ERRORS_KEY, [])
    sentences = [*whole, *(f"{name}: {sentence}" for name, said in errors.items() for sentence in said)]
    return Problem(
        "invalid",
        HTTPStatus.UNPROCESSABLE_ENTITY,
        "A value that cannot be right, whatever the state of things.",
        " ".join(sentences),
        errors,
    )


def _flat(detail: Any, path: str = "") -> Iterator[tuple[str, list[str]]]:
    """Yield the sentences by dotted path: ``lap_times_s.3``."""
    if isinstance(detail, dict):
        for name, below in detail.items():
            yield from _flat(below, f"{path}.{name}" if path else str(name))
    elif isinstance(detail, list) and any(isinstance(item, dict | list) for item in detail):
        for index, below in enumerate(detail):
            yield from _flat(below, f"{path}.{index}")
    else:
        said = detail if isinstance(detail, list) else [detail]
        yield path or api_settings.NON_FIELD_ERRORS_KEY, [str(sentence) for sentence in said]
