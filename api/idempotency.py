"""Requests sent twice under one key: one effect, and the same answer again.

The header follows draft-ietf-httpapi-idempotency-key-header-07; its value may stand in quotes, as there, or without.
"""

import re
from collections.abc import Callable
from hashlib import sha256
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, Final

from django.http import HttpResponse, RawPostDataException
from django.http.response import HttpResponseBase
from rest_framework.exceptions import UnsupportedMediaType, ValidationError
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import REFUSED
from api.forms import digests_of, is_form
from fleet.contention import settled
from fleet.replies.actions import claim_key, keep_answer, release_key
from fleet.replies.models import KEY_CHARACTERS, Reply

if TYPE_CHECKING:
    from api.views import Resource

HEADER: Final = "Idempotency-Key"
REPLAYED: Final = "Idempotency-Replayed"
# Visible ASCII without the quotation mark and the backslash, in quotes or not.
PATTERN: Final = rf'^(?:[!#-\[\]-~]{{1,{KEY_CHARACTERS}}}|"[!#-\[\]-~]{{1,{KEY_CHARACTERS}}}")$'
METHODS: Final = frozenset({"POST", "PUT", "PATCH", "DELETE"})
# Refused before anything was tried: the same request with the right header may follow under the same key.
_NOT_KEPT: Final = frozenset(
    {HTTPStatus.PRECONDITION_FAILED, HTTPStatus.PRECONDITION_REQUIRED, HTTPStatus.SERVICE_UNAVAILABLE}
)

Handler = Callable[..., HttpResponseBase]


def answered_once(
    view: "Resource[Any]", handler: Handler, request: Request, *args: Any, **address: Any
) -> HttpResponseBase:
    """Carry a write out, or give the answer it got before under the same key."""
    text = request.headers.get(HEADER)
    if text is None:
        return settled(lambda: handler(request, *args, **address))
    digest = _digest(request)
    reply = claim_key(by=view.by, at=view.at, key=_checked(text), request_digest=digest)
    if reply.answered_at is not None:
        return _again(reply)
    try:
        answer = settled(lambda: _kept(view, reply, handler(request, *args, **address)))
    except REFUSED as error:
        answer = view.handle_exception(error)
        if answer.status_code in _NOT_KEPT:
            release_key(by=view.by, reply=reply)
        else:
            _kept(view, reply, answer)
    except BaseException:
        release_key(by=view.by, reply=reply)
        raise
    return answer


def _checked(text: str) -> str:
    if not re.match(PATTERN, text):
        raise ValidationError(
            {
                HEADER: [
                    f"A key is 1 to {KEY_CHARACTERS} visible ASCII characters without quotation mark and backslash "
                    "inside, such as a random UUID: choose another."
                ]
            }
        )
    return text.strip('"')


def _digest(request: Request) -> str:
    """Return what two requests must share to be the same: method, address with its query, and body."""
    if is_form(request):
        return sha256(
            b"".join([f"{request.method} {request.get_full_path()}\n".encode(), *digests_of(request)])
        ).hexdigest()
    try:
        body: bytes = request.body
    except RawPostDataException as error:  # a form, taken apart in the search for its CSRF token
        raise UnsupportedMediaType(request.content_type) from error
    return sha256(f"{request.method} {request.get_full_path()}\n".encode() + body).hexdigest()


def _kept(view: "Resource[Any]", reply: Reply, answer: HttpResponseBase) -> HttpResponseBase:
    """Return an answer once it is stored for the next request under its key."""
    data = answer.data if isinstance(answer, Response) else None
    if isinstance(data, dict) and (shown_once := view.secrets & set(data)):
        data = data | dict.fromkeys(shown_once)
    media_type = (isinstance(answer, Response) and answer.content_type) or JSONRenderer.media_type
    headers = dict(answer.items()) | ({} if data is None else {"Content-Type": media_type})
    keep_answer(
        by=view.by,
        at=view.at,
        reply=reply,
        status=answer.status_code,
        headers=headers,
        body="" if data is None else JSONRenderer().render(data).decode(),
    )
    return answer


def _again(reply: Reply) -> HttpResponse:
    answer = HttpResponse(reply.body, status=reply.status, headers=reply.headers | {REPLAYED: "true"})
    if not reply.body:
        del answer["Content-Type"]
    return answer
