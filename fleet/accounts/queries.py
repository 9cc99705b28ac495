"""Reads of API keys, the one a program presents and those a person looks after, of roles and of second factors."""

from datetime import datetime

from allauth.mfa.models import Authenticator
from django.db.models import Q, QuerySet

from fleet.accounts.digests import digest_of
from fleet.accounts.models import ApiKey, Membership, Person, RoleOffer
from fleet.accounts.policy import Right, organisations, roles_to_give
from fleet.errors import NotFound


def standing_key(prefix: str, *, at: datetime) -> ApiKey | None:
    """Return the key with a prefix if it works at a moment.

    A key that is revoked, has ended, or whose people are gone is not found, in the same single query as one that
    never was.
    """
    return (
        ApiKey.objects.filter(
            Q(expires_at__isnull=True) | Q(expires_at__gt=at),
            prefix=prefix,
            revoked_at__isnull=True,
            person__is_active=True,
            made_by__is_active=True,
        )
        .select_related("person", "made_by", "organisation")
        .first()
    )


def is_program(by: Person) -> bool:
    """Return whether an account is that of an organisation's key: nobody's, with nothing of its own."""
    return by.api_keys.filter(organisation__isnull=False).exists()


def keys_for(by: Person) -> QuerySet[ApiKey]:
    """Return the keys somebody looks after: their own and those of organisations whose keys they manage."""
    return (
        ApiKey.objects.filter(
            Q(organisation__isnull=True, person=by)
            | Q(organisation__in=organisations(by, Right.MANAGE_KEYS).values("pk"))
        )
        .select_related("organisation", "made_by", "revoked_by")
        .prefetch_related("person__memberships")
        .order_by("-made_at", "id")
    )


def standing_offer(token: str, *, at: datetime) -> RoleOffer:
    """Return the offer a link stands for; one taken, withdrawn, over or never made is refused in the same words.

    It stands only as long as whoever made it may give the role.
    """
    offer = (
        RoleOffer.objects.filter(
            digest=digest_of(token),
            taken_at__isnull=True,
            withdrawn_at__isnull=True,
            expires_at__gt=at,
            made_by__is_active=True,
        )
        .select_related("organisation", "made_by")
        .first()
    )
    if offer is None or offer.role not in roles_to_give(offer.made_by, offer.organisation):
        raise NotFound("This link was used or is over: ask where you got it for a new one.")
    return offer


def open_offers(by: Person, *, at: datetime) -> QuerySet[RoleOffer]:
    """Return the offers that wait to be taken in the organisations whose people somebody looks after."""
    return (
        RoleOffer.objects.filter(
            organisation__in=organisations(by, Right.MANAGE_PEOPLE),
            taken_at__isnull=True,
            withdrawn_at__isnull=True,
            expires_at__gt=at,
        )
        .select_related("organisation", "made_by")
        .order_by("expires_at", "id")
    )


def members_for(by: Person) -> QuerySet[Membership]:
    """Return one's own roles, and those of everybody in the organisations whose people one looks after; no programs."""
    return (
        Membership.objects.filter(
            Q(person=by) | Q(organisation__in=organisations(by, Right.MANAGE_PEOPLE).values("pk"))
        )
        .exclude(person__api_keys__organisation__isnull=False)
        .select_related("person", "organisation")
        .order_by("organisation__name", "person__name", "role", "id")
    )


def lacks_second_factor(person: Person) -> bool:
    """Return whether somebody has a role anywhere, or runs the service, and no second factor."""
    has_power = Q(is_superuser=True) | Q(pk__in=Membership.objects.values("person"))
    secured = Authenticator.objects.filter(type=Authenticator.Type.TOTP).values("user")
    return Person.objects.filter(has_power, pk=person.pk).exclude(pk__in=secured).exists()
