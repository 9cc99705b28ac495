"""Who may ask at all; what somebody may see or do is decided by the queries and actions."""

from typing import Any

from rest_framework.permissions import BasePermission
from rest_framework.request import Request


class Deny(BasePermission):
    """Nobody: what a view gets that does not say who may ask."""

    def has_permission(self, request: Request, view: Any) -> bool:  # noqa: ARG002
        """Return that nobody may."""
        return False


class SignedIn(BasePermission):
    """Everybody who is signed in."""

    def has_permission(self, request: Request, view: Any) -> bool:  # noqa: ARG002
        """Return whether the person who asks is known."""
        return request.user is not None and request.user.is_authenticated


class Anyone(BasePermission):
    """Everybody, signed in or not: for what is public by design."""

    def has_permission(self, request: Request, view: Any) -> bool:  # noqa: ARG002
        """Return that everybody may."""
        return True
