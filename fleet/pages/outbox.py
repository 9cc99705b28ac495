"""The outbox: entries made on a device, with a network or without, and what the service answers to them.

A device stores a form's entry first and then sends it as a program would. ``OutboxAnswers`` turns what any page
answers to such a request into a few words a program understands, in one place and not in each page.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from http import HTTPStatus
from typing import Any, Final

from django.contrib.auth.decorators import login_not_required
from django.contrib.messages import get_messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.pages.asking import person_of, require_place
from fleet.pages.guarding import GetResponse
from fleet.pages.refusing import REFUSED
from fleet.pages.ticket import CAUTIONS

OLDEST: Final = timedelta(days=30)
"""How long ago an entry may have been made and still count as of then."""
REACHED: Final = "fleet.outbox_reached"
WAITS: Final[dict[int, str]] = {HTTPStatus.FOUND: "sign-in", HTTPStatus.FORBIDDEN: "token"}
"""What an entry waits for that was turned away before it reached its page: sent to sign in, or its token was stale."""
OTHERWISE: Final = (
    "The service refused this entry and did not say why: open its form, look at it once more, and send it."
)


class OutboxAnswers:
    """Says of every page whom it was made for, and answers entries sent from a device in JSON.

    ``stored`` with the address that shows it, ``refused`` with the sentences of the page, or ``wait`` with what is
    missing: the same person signed in (``sign-in``, ``person``) or a fresh token (``token``). It stands last, so that
    what comes back without having reached it was turned away before any page was asked.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Return the page's answer, or what it means for an entry."""
        response = self.get_response(request)
        if is_entry(request):
            response = _in_json(request, response)
        elif request.path_info.startswith("/api/") or not _is_read_by_people(response):
            return response
        response["Outbox-Person"] = whose(request)
        return response

    def process_view(
        self, request: HttpRequest, _view: Callable[..., Any], *_args: Any
    ) -> HttpResponse | None:
        """Refuse an entry that somebody else made; note that everything before let it through."""
        if not is_entry(request):
            return None
        request.META[REACHED] = True
        if request.headers.get("Outbox-Person") != whose(request):
            return JsonResponse({"wait": "person"}, status=HTTPStatus.CONFLICT)
        return None


def is_entry(request: HttpRequest) -> bool:
    """Return whether a request was sent by the outbox of a device."""
    return request.method == "POST" and "Outbox" in request.headers


def whose(request: HttpRequest) -> str:
    """Return the id of the person a request is answered for, ``none`` for nobody."""
    user = getattr(request, "user", None)
    return str(user.pk) if isinstance(user, Person) else "none"


def made_at(request: HttpRequest) -> datetime:
    """Return when an entry was made: when its button was pressed, which for one that waited was before now."""
    now = timezone.now()
    if not is_entry(request):
        return now
    try:
        said = datetime.fromisoformat(request.headers.get("Outbox-Made", ""))
    except ValueError:
        return now
    if said.tzinfo is None or not now - OLDEST <= said <= now:
        return now
    return said


def _is_read_by_people(response: HttpResponse) -> bool:
    return response.get("Content-Type", "").startswith(("text/html", "application/json"))


def _in_json(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    status = response.status_code
    if response.get("Content-Type") == "application/json" or status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return response
    if not request.META.get(REACHED) and status in WAITS:
        return JsonResponse({"wait": WAITS[status]}, status=HTTPStatus.UNAUTHORIZED)
    if status >= HTTPStatus.BAD_REQUEST:
        rows = request.META.get(REFUSED) or [("", OTHERWISE)]
        refused = [{"field": field, "message": sentence} for field, sentence in rows]
        return JsonResponse({"refused": refused}, status=status)
    # What a page would say once is said to the outbox where nobody is about to see the next page.
    is_unseen = request.headers["Outbox"] == "waiting"
    said = [str(message) for message in get_messages(request)] if is_unseen else []
    return JsonResponse({"stored": response.get("Location", request.path), "said": said})


@login_not_required
@never_cache
@require_safe
def token(request: HttpRequest) -> HttpResponse:
    """Tell a device who is signed in, and the token an entry is sent with."""
    return JsonResponse(
        {"person": None if whose(request) == "none" else whose(request), "token": get_token(request)}
    )


@require_safe
def outbox(request: HttpRequest) -> HttpResponse:
    """Show the frame in which a device lists what waits on it; the entries themselves are only there."""
    return render(request, "pages/outbox.html")


@require_safe
def waiting(request: HttpRequest) -> HttpResponse:
    """Show the frame of a ticket that stands on one device until it is sent, and of the slip printed before that."""
    require_place(person_of(request), "trailer")
    return render(request, "pages/waiting.html", {"place": "trailer", "cautions": CAUTIONS})
