"""The one shape of every refusal: problem details (RFC 9457) with a stable code, a sentence, and errors by field."""

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

from fleet.errors import Kind, NotFound, Refusal

MEDIA_TYPE: Final = "application/problem+json"
PROBLEMS_ADDRESS: Final = "/api/v1/problems"
STATUS_OF: Final = {
    Kind.INVALID: HTTPStatus.UNPROCESSABLE_ENTITY,
    Kind.CONFLICT: HTTPStatus.CONFLICT,
    Kind.FORBIDDEN: HTTPStatus.FORBIDDEN,
    Kind.MISSING: HTTPStatus.NOT_FOUND,
}
# What the transport refuses before the domain is asked: code, status, title.
OF_THE_TRANSPORT: Final = (
    ("malformed", HTTPStatus.BAD_REQUEST, "A body that is not readable JSON."),
    ("not-signed-in", HTTPStatus.UNAUTHORIZED, "A request by nobody the service knows."),
    ("csrf-failed", HTTPStatus.FORBIDDEN, "A write without the CSRF token of the session."),
    ("method-not-allowed", HTTPStatus.METHOD_NOT_ALLOWED, "A method this address does not have."),
    ("not-acceptable", HTTPStatus.NOT_ACCEPTABLE, "An answer wanted in another form than JSON."),
    ("unsupported-media-type", HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "A body in another form than JSON."),
)
_TITLES: Final = {code: title for code, _status, title in OF_THE_TRANSPORT}
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


def problem(exc: Exception, _context: dict[str, Any]) -> Response | None:
    """Return the answer to a refusal; anything else is a fault of the service and stays one."""
    if isinstance(exc, RequestDataTooBig):
        most_mb = (settings.DATA_UPLOAD_MAX_MEMORY_SIZE or 0) // 1024**2
        exc = exceptions.ParseError(f"The body is too large: send at most {most_mb} MB, one row at a time.")
    said = _described(exc)
    if said is None:
        return None
    challenge = getattr(exc, "auth_header", None)
    return Response(
        said.body(),
        status=said.status,
        content_type=MEDIA_TYPE,
        headers={"WWW-Authenticate": challenge} if challenge else None,
    )


def refusals(kind: type[Refusal] = Refusal) -> Iterator[type[Refusal]]:
    """Return every kind of refusal of the domain that has a code of its own."""
    for below in kind.__subclasses__():
        yield below
        yield from refusals(below)


def title_of(kind: type[Refusal]) -> str:
    """Return what a kind of refusal means in general: the first line of its docstring."""
    return (kind.__doc__ or kind.code).strip().splitlines()[0]


def _described(exc: Exception) -> Problem | None:
    if isinstance(exc, Refusal):
        errors = {exc.field: [exc.sentence]} if exc.field else {}
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


def _of_the_transport(exc: exceptions.APIException) -> Problem:
    codes = {status: code for code, status, _ in OF_THE_TRANSPORT if code != "csrf-failed"}
    given = exc.get_codes()
    code = given if given == "csrf-failed" else codes.get(HTTPStatus(exc.status_code), "not-allowed")
    sentences = {
        "not-signed-in": "Nobody is signed in: sign in on the pages and send the session cookie.",
        "not-acceptable": "Answers are JSON: accept application/json.",
        "unsupported-media-type": "Bodies are JSON: send Content-Type: application/json.",
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
