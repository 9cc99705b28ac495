"""Every request has an id, which its answer tells and the log and the jobs it wakes carry; and it is counted."""

import logging
import time
import uuid
from typing import Final

from django.http import HttpRequest, HttpResponse

from fleet.logs import REQUEST_ID, is_well_formed, route_of
from fleet.operating.metrics import REQUESTS
from fleet.pages.guarding import GetResponse

HEADER: Final = "X-Request-ID"
log = logging.getLogger("fleet.requests")


class EachRequest:
    """Gives every request an id, its sender's own where it is well-formed; stands first, so that it sees every answer."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Return the answer with the request's id."""
        said = request.headers.get(HEADER, "")
        token = REQUEST_ID.set(said if is_well_formed(said) else uuid.uuid4().hex)
        started = time.monotonic()
        try:
            response = self.get_response(request)
            seconds = time.monotonic() - started
            response[HEADER] = REQUEST_ID.get()
            REQUESTS.note(request.method or "", response.status_code, seconds)
            log.info(
                "request",
                extra={
                    "method": request.method,
                    "route": route_of(request),
                    "status": response.status_code,
                    "duration_ms": round(seconds * 1000, 1),
                },
            )
        finally:
            REQUEST_ID.reset(token)
        return response
