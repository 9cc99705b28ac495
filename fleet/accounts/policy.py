"""Who may do what: the only file that knows roles.

A person without any role in an organisation is a stranger to it and learns nothing (``NotFound``); a member whose role
is too small is told so (``NotAllowed``). Every query narrows its rows by ``organisations``, every action calls
``require``. The service itself (import, jobs, command line) acts as ``SERVICE``.
"""

from datetime import timedelta
from enum import StrEnum, auto
from typing import Final, TypeAlias

from django.db.models import QuerySet

from fleet.accounts.models import Organisation, Person, Role
from fleet.errors import NotAllowed, NotFound


class Service:
    """The service itself as the one who acts: the command line and the background jobs."""


SERVICE: Final = Service()
Actor: TypeAlias = Person | Service

SHARED_AFTER_EVENT: Final = timedelta(days=30)
"""How long after an event day an entry still opens an entrant's tires to the organiser."""


class Right(StrEnum):
    """One thing a role may do for its organisation."""

    READ_RIDERS = auto()
    REGISTER = auto()
    FIT = auto()
    READ_STOCK = auto()
    MANAGE_STOCK = auto()
    TAKE_READINGS = auto()
    READ_EVENT = auto()
    EDIT_EVENT = auto()
    READ_ENTRANTS = auto()
    READ_ENTRANT_LIFE = auto()
    READ_ENTRANT_PRESSURES = auto()
    READ_SHARED_STINTS = auto()
    READ_GUIDANCE = auto()
    DRAFT_BULLETIN = auto()
    ISSUE_BULLETIN = auto()
    HOLD = auto()
    RECALL = auto()
    READ_RECALLS = auto()
    READ_BULLETIN = auto()
    MANAGE_KEYS = auto()
    MANAGE_PEOPLE = auto()
    INVITE = auto()
    READ_HISTORY = auto()
    RUN_TESTS = auto()


_TRAILER = {
    Right.READ_RIDERS,
    Right.READ_STOCK,
    Right.READ_RECALLS,
    Right.READ_GUIDANCE,
    Right.READ_BULLETIN,
}
_CREW = {
    Right.READ_EVENT,
    Right.EDIT_EVENT,
    Right.READ_ENTRANTS,
    Right.READ_RECALLS,
    Right.READ_ENTRANT_PRESSURES,
    Right.READ_GUIDANCE,
    Right.DRAFT_BULLETIN,
    Right.READ_BULLETIN,
    Right.REGISTER,
    Right.INVITE,
}
RIGHTS: Final[dict[str, frozenset[Right]]] = {
    Role.FITTER: frozenset(_TRAILER | {Right.REGISTER, Right.FIT, Right.TAKE_READINGS, Right.INVITE}),
    Role.STOCK_MANAGER: frozenset(
        _TRAILER
        | {
            Right.REGISTER,
            Right.FIT,
            Right.TAKE_READINGS,
            Right.MANAGE_STOCK,
            Right.RECALL,
            Right.MANAGE_KEYS,
            Right.MANAGE_PEOPLE,
            Right.INVITE,
            Right.READ_HISTORY,
        }
    ),
    Role.CREW: frozenset(_CREW),
    Role.DIRECTOR: frozenset(
        _CREW
        | {Right.ISSUE_BULLETIN, Right.RECALL, Right.MANAGE_KEYS, Right.MANAGE_PEOPLE, Right.READ_HISTORY}
    ),
    Role.INSPECTOR: frozenset(
        {
            Right.READ_EVENT,
            Right.READ_ENTRANTS,
            Right.READ_ENTRANT_LIFE,
            Right.HOLD,
            Right.RECALL,
            Right.READ_RECALLS,
            Right.READ_BULLETIN,
        }
    ),
    Role.TESTER: frozenset(
        {
            Right.READ_STOCK,
            Right.READ_EVENT,
            Right.READ_SHARED_STINTS,
            Right.RUN_TESTS,
            Right.READ_GUIDANCE,
            Right.DRAFT_BULLETIN,
            Right.READ_BULLETIN,
        }
    ),
}

GIVES: Final[dict[str, frozenset[str]]] = {
    Role.STOCK_MANAGER: frozenset({Role.FITTER, Role.STOCK_MANAGER, Role.TESTER}),
    Role.DIRECTOR: frozenset({Role.CREW, Role.DIRECTOR, Role.INSPECTOR, Role.TESTER}),
}
"""The roles that those who look after an organisation's people give and end, by their own."""


def roles_with(right: Right) -> list[str]:
    """Return the roles that hold a right."""
    return [role for role, rights in RIGHTS.items() if right in rights]


def organisations(by: Actor, right: Right) -> QuerySet[Organisation]:
    """Return the organisations in which somebody holds a right; the service holds every right everywhere."""
    if isinstance(by, Service):
        return Organisation.objects.all()
    return Organisation.objects.filter(
        memberships__person=by, memberships__role__in=roles_with(right)
    ).distinct()


def may(by: Actor, right: Right, organisation: Organisation) -> bool:
    """Return whether somebody holds a right in an organisation."""
    return organisations(by, right).filter(pk=organisation.pk).exists()


def require(by: Actor, right: Right, organisation: Organisation | None) -> None:
    """Refuse a request by somebody without the right: a stranger finds nothing, a member is told."""
    if organisation is not None and may(by, right, organisation):
        return
    person = author(by)
    if person and organisation and organisation.memberships.filter(person=person).exists():
        raise NotAllowed(
            f"Your role at {organisation.name} does not include this: ask somebody there who may."
        )
    raise NotFound("There is nothing like that here for you: check the address, or ask for access.")


def roles_for_keys(by: Person, organisation: Organisation) -> list[str]:
    """Return the roles somebody may give a key of an organisation: those whose every right they hold there."""
    roles = organisation.memberships.filter(person=by).values_list("role", flat=True)
    held = {right for role in roles for right in RIGHTS[role]}
    if Right.MANAGE_KEYS not in held:
        return []
    return [role for role, rights in RIGHTS.items() if rights <= held]


def roles_to_give(by: Actor, organisation: Organisation) -> list[str]:
    """Return the roles somebody may give and end in an organisation; the service itself all of them."""
    if isinstance(by, Service):
        return list(RIGHTS)
    held = organisation.memberships.filter(person=by).values_list("role", flat=True)
    given = {role for own in held for role in GIVES.get(own, ())}
    return [role for role in RIGHTS if role in given]


def require_service(by: Actor) -> None:
    """Refuse anybody but the service itself: shared reference data comes in by the command line."""
    if not isinstance(by, Service):
        raise NotAllowed("Shared reference data is kept by those who run the service: ask them to import it.")


def is_operator(by: Actor) -> bool:
    """Return whether somebody runs the service: made so on its command line, and by nobody within it."""
    return isinstance(by, Service) or (by.is_active and by.is_superuser)


def require_operator(by: Actor) -> None:
    """Refuse anybody who does not run the service."""
    if not is_operator(by):
        raise NotAllowed("This is for those who run the service: ask them to look.")


def author(by: Actor) -> Person | None:
    """Return the person to write beside a fact; nobody where the service itself acts."""
    return by if isinstance(by, Person) else None
