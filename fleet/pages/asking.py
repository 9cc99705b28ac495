"""Who asks, and what they may open."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, TypeAlias

from allauth.account.decorators import reauthentication_required
from django.http import HttpRequest, HttpResponse, QueryDict

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import NotAllowed, NotFound
from fleet.garage.queries import own_rider

Page: TypeAlias = Callable[[HttpRequest], HttpResponse]


@dataclass(frozen=True)
class Place:
    """A work place: where it is, what it is called, and the right that opens it (none: being a rider)."""

    name: str
    route: str
    right: Right | None
    is_for: str


PLACES: Final = (
    Place("Trailer", "trailer", Right.FIT, "a vendor's crew"),
    Place("Garage", "garage", None, "riders"),
    Place("Event desk", "desk", Right.READ_EVENT, "an organiser's crew"),
    Place("Trials", "trials", Right.RUN_TESTS, "testers of a vendor or an organiser"),
)


def person_of(request: HttpRequest) -> Person:
    """Return the person who is signed in."""
    if not isinstance(request.user, Person):
        raise NotFound("Nobody is signed in: sign in first.")
    return request.user


surely: Final[Callable[[Page], Page]] = reauthentication_required(
    app="allauth.account", enabled=lambda request: request.method == "POST"
)
"""Wrap a page whose form gives power away: whoever sends it showed lately that it is still them."""


def opens(by: Person, place: Place) -> bool:
    """Return whether somebody works at a place."""
    if place.right is None:
        return own_rider(by) is not None
    return organisations(by, place.right).exists()


def places_of(by: Person) -> list[Place]:
    """Return the places somebody works at, in the order of the masthead."""
    return [place for place in PLACES if opens(by, place)]


def require_place(by: Person, route: str) -> None:
    """Refuse somebody who does not work at a place, and say whom it is for."""
    place = next(place for place in PLACES if place.route == route)
    if not opens(by, place):
        raise NotAllowed(
            f"The {place.name.lower()} is for {place.is_for}: ask your organisation for the role, or go to your own "
            "start page."
        )


def typed(sent: QueryDict, name: str) -> str:
    """Return what was typed to look something up, without the NUL that no database compares."""
    return sent.get(name, "").replace("\x00", "").strip()


def as_uuid(text: str) -> uuid.UUID | None:
    """Return an id that came as text, or nothing where it is none."""
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def masthead(request: HttpRequest) -> dict[str, Any]:
    """Return what every page shows on top: the places of the person, asked for only where they are shown."""
    if isinstance(getattr(request, "user", None), Person):
        return {"places": partial(places_of, person_of(request))}
    return {}
