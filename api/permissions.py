"""Who may ask at all, and what a key's scopes open; what somebody may see or do is for the queries and actions."""

from typing import Any, Final

from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from fleet.accounts.models import ApiKey, Scope
from fleet.errors import NotAllowed

# The scope that writes of a noun want, and where one of its verbs wants another.
WRITE_SCOPES: Final[dict[str, Scope]] = {
    "me": Scope.WRITE_GARAGE,
    "rider": Scope.WRITE_GARAGE,
    "bike": Scope.WRITE_GARAGE,
    "wheel-pair": Scope.WRITE_GARAGE,
    "instrument": Scope.WRITE_GARAGE,
    "comparison": Scope.WRITE_GARAGE,
    "stint": Scope.WRITE_FACTS,
    "pressure": Scope.WRITE_FACTS,
    "tread": Scope.WRITE_FACTS,
    "temperature": Scope.WRITE_FACTS,
    "feel-note": Scope.WRITE_FACTS,
    "surface-note": Scope.WRITE_FACTS,
    "advice-answer": Scope.WRITE_FACTS,
    "cycle-correction": Scope.WRITE_FACTS,
    "adjustment": Scope.WRITE_FACTS,
    "shape": Scope.WRITE_FACTS,
    "contour": Scope.WRITE_FACTS,
    "tire-test": Scope.WRITE_FACTS,
    "test-step": Scope.WRITE_FACTS,
    "test-run": Scope.WRITE_FACTS,
    "reference-note": Scope.WRITE_FACTS,
    "notice": Scope.WRITE_FACTS,
    "sharing": Scope.WRITE_ACCESS,
    "invitation": Scope.WRITE_ACCESS,
    "handover": Scope.WRITE_ACCESS,
    "flag": Scope.WRITE_FACTS,
    "lot": Scope.WRITE_STOCK,
    "movement": Scope.WRITE_STOCK,
    "reservation": Scope.WRITE_STOCK,
    "tire": Scope.WRITE_FITTINGS,
    "ticket": Scope.WRITE_FITTINGS,
    "fitting": Scope.WRITE_FITTINGS,
    "removal": Scope.WRITE_FITTINGS,
    "hold": Scope.WRITE_HOLDS,
    "inspection": Scope.WRITE_HOLDS,
    "recall": Scope.WRITE_HOLDS,
    "sidewall": Scope.WRITE_HOLDS,
    "event": Scope.WRITE_EVENTS,
    "day": Scope.WRITE_EVENTS,
    "group": Scope.WRITE_EVENTS,
    "slot": Scope.WRITE_EVENTS,
    "entry": Scope.WRITE_EVENTS,
    "conditions": Scope.WRITE_EVENTS,
    "bulletin": Scope.ISSUE_BULLETINS,
}
VERB_SCOPES: Final[dict[tuple[str, str], Scope]] = {("day", "bulletins"): Scope.ISSUE_BULLETINS}


class ScopeTooSmall(NotAllowed):
    """A request with a key whose scopes do not include this."""

    code = "scope-too-small"

    def __init__(self, wanted: Scope | None) -> None:
        named = f"the scope {wanted.value}" if wanted else "a person who is signed in: no scope opens it"
        super().__init__(f"This wants {named}, and the key does not have it: make a key that does.")
        # RFC 6750, section 3.1: the challenge names the scope that would do.
        self.auth_header = 'Bearer realm="api", error="insufficient_scope"' + (
            f', scope="{wanted.value}"' if wanted else ""
        )


def scope_wanted(view: Any, method: str) -> Scope | None:
    """Return the scope that opens a request; nothing where no key does."""
    if method in SAFE_METHODS:
        return Scope.READ
    noun = view.basename or ""
    return VERB_SCOPES.get((noun, view.action)) or WRITE_SCOPES.get(noun)


class Deny(BasePermission):
    """Nobody: what a view gets that does not say who may ask."""

    def has_permission(self, request: Request, view: Any) -> bool:  # noqa: ARG002
        """Return that nobody may."""
        return False


class SignedIn(BasePermission):
    """Everybody who is signed in, and every program with a key of the scope wanted."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Return whether the person who asks is known; a key with too small a scope is told which one it lacks."""
        if request.user is None or not request.user.is_authenticated:
            return False
        # A method the address does not have is for the view to refuse.
        if isinstance(request.auth, ApiKey) and view.action is not None:
            wanted = scope_wanted(view, str(request.method))
            if wanted is None or wanted not in request.auth.scopes:
                raise ScopeTooSmall(wanted)
        return True


class Anyone(BasePermission):
    """Everybody, signed in or not: for what is public by design."""

    def has_permission(self, request: Request, view: Any) -> bool:  # noqa: ARG002
        """Return that everybody may."""
        return True
