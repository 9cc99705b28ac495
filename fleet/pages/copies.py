"""Copies of pages on a device, for the hours without a network: the service worker, and which pages it should have."""

import hashlib
import json
import uuid
from collections.abc import Callable
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Final

from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles.finders import get_finders
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.garage.models import WheelPair
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import tickets_for
from fleet.pages.asking import PLACES, opens, person_of
from fleet.pages.desk import desk_days, local_date
from fleet.pages.expected import wheels_expected
from fleet.pages.stock import managed_by
from fleet.pages.trailer import lots_on_trailer

PARTS: Final = ("store", "sender", "worker")
OURS: Final = ("pages/", "vendor/")
KEPT_FILES: Final = {".css", ".js", ".svg", ".woff2"}
MOST_TICKETS: Final = 60
OF_TICKET: Final = ("fit", "ticket", "pressures", "measures", "slip")
OF_WHEELS: Final = ("fit-wheels", "take-in", "wheels-pressures")
NO_NETWORK: Final = {
    "page": (
        "No network, and no copy of this page",
        "This device kept no copy of the page you asked for. Open one of the pages below, or try again with a network.",
    ),
    "sign-out": (
        "The copies are gone; sign out once more",
        "There is no network, so the service has not heard of it yet. The pages kept on this device are gone. What waits "
        "to be sent stays. Sign out once more when there is a network.",
    ),
    "sending": (
        "No network: this was not stored",
        "What you sent did not reach the service. Go back: what you typed is still in the form. Send it again when there "
        "is a network.",
    ),
}


@login_not_required
@require_safe
def worker(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - the same for everybody
    """Send the service worker, another one for every release, checked for anew each time."""
    version, files = release()
    addresses = [*map(static, files), *(reverse("no-network", args=[what]) for what in NO_NETWORK)]
    parts = [f"{static(f'pages/outbox/{part}.js')}?{version}" for part in PARTS]
    said = "\n".join(
        (
            f"const VERSION = {json.dumps(version)};",
            f"const FILES = {json.dumps(addresses)};",
            f"importScripts(...{json.dumps(parts)});",
        )
    )
    response = HttpResponse(f"{said}\n", content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@cache
def release() -> tuple[str, tuple[str, ...]]:
    """Return the files pages are made of, and a digest that is another one as soon as one of them is."""
    digest = hashlib.sha256()
    found = {name: storage for finder in get_finders() for name, storage in finder.list([])}
    files = sorted(name for name in found if name.startswith(OURS) and Path(name).suffix in KEPT_FILES)
    for name in files:
        digest.update(name.encode())
        with found[name].open(name) as file:
            digest.update(file.read())
    return digest.hexdigest()[:16], tuple(files)


@never_cache
@require_safe
def keep(request: HttpRequest) -> HttpResponse:
    """Name the pages a person's device should have a copy of."""
    return JsonResponse({"addresses": addresses_for(person_of(request))})


def addresses_for(by: Person) -> list[str]:
    """Return the pages somebody works with, those first that everything else starts from."""
    places = [place.route for place in PLACES if opens(by, place)]
    starts = [reverse("outbox"), *map(reverse, places)]
    return [*starts, *(address for place in places if place in WORK for address in WORK[place](by))]


def _garage(by: Person) -> list[str]:
    pairs = WheelPair.objects.filter(bike__rider__person=by, is_in_use=True).order_by("pk")
    return [reverse("stint", args=[pair.pk]) for pair in pairs]


def _trailer(by: Person) -> list[str]:
    """Name what is worked with first: the tickets that are here, then the forms for whoever may come."""
    tickets = tickets_for(by).exclude(state=JobTicket.State.COLLECTED)[:MOST_TICKETS]
    here = [address for ticket in tickets for address in _work(OF_TICKET, ticket.pk)]
    coming = [
        address for pair in wheels_expected(by, timezone.now()) for address in _work(OF_WHEELS, pair.pk)
    ]
    ways = ("waiting", "expected", "stock", "reservations")
    return [*map(reverse, ways), *here, *coming, *_stock(by)]


def _stock(by: Person) -> list[str]:
    """Name the forms of who manages stock: a delivery, and the lots that have tires on the trailer."""
    vendors = managed_by(by)
    lots = [lot for lot, _ in lots_on_trailer(by) if lot.vendor in vendors] if vendors else []
    return [reverse("receive"), *(reverse("lot", args=[lot.pk]) for lot in lots)] if vendors else []


def _work(routes: tuple[str, ...], pk: uuid.UUID) -> list[str]:
    ways = [reverse(route, args=[pk]) for route in routes[1:]]
    return [*ways, *(reverse(routes[0], args=[pk, axle]) for axle in AXLES)]


def _desk(by: Person) -> list[str]:
    at = timezone.now()
    days = desk_days(by).filter(date__range=(at.date() - timedelta(days=1), at.date() + timedelta(days=1)))
    today = [day.pk for day in days if local_date(day, at) == day.date]
    return [reverse(route, args=[pk]) for pk in today for route in ("gate", "gate-list")]


WORK: Final[dict[str, Callable[[Person], list[str]]]] = {
    "trailer": _trailer,
    "garage": _garage,
    "desk": _desk,
}


@login_not_required
@require_safe
def no_network(request: HttpRequest, what: str) -> HttpResponse:  # noqa: ARG001 - made for nobody in particular
    """Send a page that a device shows in place of one it cannot get."""
    if what not in NO_NETWORK:
        raise Http404
    title, sentence = NO_NETWORK[what]
    return HttpResponse(render_to_string("pages/no_network.html", {"title": title, "sentence": sentence}))
