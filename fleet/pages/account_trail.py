"""What the accounts library changes about how somebody signs in, noted in the trail."""

from typing import Any

from allauth.account.models import EmailAddress
from allauth.account.signals import email_changed, password_changed, password_reset, password_set
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authenticator_added, authenticator_removed, authenticator_reset
from django.dispatch import receiver

from fleet.accounts.actions import note_address, note_way_in
from fleet.accounts.models import Person


@receiver(email_changed)
def keep_address(
    user: Person, from_email_address: EmailAddress | None, to_email_address: EmailAddress, **_told: Any
) -> None:
    """Note both addresses."""
    before = from_email_address.email if from_email_address else ""
    note_address(by=user, before=before, after=to_email_address.email)


@receiver((password_changed, password_set, password_reset))
def keep_password(user: Person, **_told: Any) -> None:
    """Note that there is a new password."""
    note_way_in(by=user, way_in="new password")


@receiver((authenticator_added, authenticator_removed, authenticator_reset))
def keep_second_factor(user: Person, authenticator: Authenticator, signal: Any, **_told: Any) -> None:
    """Note that a second factor came, went or was made anew."""
    named = {
        authenticator_added: "added",
        authenticator_removed: "given up",
        authenticator_reset: "made anew",
    }
    note_way_in(by=user, way_in=f"{authenticator.get_type_display().lower()} {named[signal]}")
