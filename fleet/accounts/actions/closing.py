"""The closing of an account for good: nobody gets in with it any more, and it says nothing of whose it was."""

from datetime import datetime
from typing import Final

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Q

from fleet.accounts.models import ERASED_DOMAIN, ApiKey, Membership, Person, RoleOffer, What
from fleet.accounts.policy import Actor
from fleet.accounts.trail import note, values_of

NOBODY: Final = "Erased person"
CHOSEN: Final = ("pressure_unit", "temperature_unit", "depth_unit", "distance_unit")


@transaction.atomic
def close_account(*, by: Actor, at: datetime, person: Person) -> Person:
    """Take everything personal from an account, and end its visits, keys and roles; what it wrote stays its own.

    Who may ask for it is decided where the erasure begins; keys it made for an organisation end with it.
    """
    _end_visits(person)
    _end_keys(person, by=by, at=at)
    for membership in Membership.objects.filter(person=person).select_related("organisation"):
        held = values_of(membership, "role")
        note(membership, What.TAKEN_BACK, by=by, before=held, organisation=membership.organisation)
        membership.delete()
    RoleOffer.objects.filter(taken_by=person).update(meant_for=NOBODY)
    EmailAddress.objects.filter(user=person).delete()
    Authenticator.objects.filter(user=person).delete()
    person.groups.clear()
    person.user_permissions.clear()
    person.set_unusable_password()
    person.email = f"{person.pk.hex}@{ERASED_DOMAIN}"
    person.name = NOBODY
    person.is_active = person.is_superuser = False
    person.last_login = None
    unchosen = Person()
    for name in CHOSEN:
        setattr(person, name, getattr(unchosen, name))
    person.save()
    note(person, What.ERASED, by=by, person=person)
    return person


def _end_visits(person: Person) -> None:
    """End every visit, also those that only began to sign in: a code asked for leaves an address behind."""
    UserSession.objects.filter(user=person).delete()
    told = [
        str(person.pk),
        *EmailAddress.objects.filter(user=person).values_list("email", flat=True),
        person.email,
    ]
    for session in Session.objects.iterator():
        held = str(session.get_decoded()).casefold()
        if any(one.casefold() in held for one in told):
            session.delete()


def _end_keys(person: Person, *, by: Actor, at: datetime) -> None:
    made = ApiKey.objects.filter(Q(person=person) | Q(made_by=person))
    for key in made.filter(revoked_at__isnull=True).select_related("organisation"):
        note(key, What.REVOKED, by=by, person=key.person, organisation=key.organisation)
    made.filter(revoked_at__isnull=True).update(revoked_at=at, revoked_by=person)
    Person.objects.filter(pk__in=made.filter(organisation__isnull=False).values("person")).update(
        is_active=False
    )
    ApiKey.objects.filter(person=person, organisation__isnull=True).update(name=NOBODY)
